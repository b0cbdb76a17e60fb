"""Files as their content: immutable, found by SHA-256, served only through a permission check."""

from django.conf import settings
from django.db import models

__all__ = ["Photo", "StoredFile"]


class StoredFile(models.Model):
    """One stored content; ``name_in_store`` is where the storage keeps it."""

    sha256 = models.CharField(max_length=64, unique=True)
    name_in_store = models.CharField(max_length=160)
    content_type = models.CharField(max_length=60)
    size_bytes = models.PositiveBigIntegerField()
    stored_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(sha256__regex=r"^[0-9a-f]{64}$"), name="%(app_label)s_%(class)s_sha256_is_hash"
            ),
        ]

    def __str__(self) -> str:
        return self.sha256[:12]


class Photo(models.Model):
    """A photo of a build: re-encoded, its metadata gone; the id is made by the device that took it."""

    class Kind(models.TextChoices):
        STEP = "step", "step"
        DAMAGE = "damage", "damage"
        PENETRATION = "penetration", "body penetration"
        GEAR = "gear", "customer-supplied gear"
        CHECK_IN = "check_in", "check-in"

    event_id = models.UUIDField(unique=True)
    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="photos")
    step = models.ForeignKey("builds.ChecklistStep", on_delete=models.PROTECT, null=True, related_name="photos")
    kind = models.CharField(max_length=20, choices=Kind.choices)
    caption = models.CharField(max_length=160, blank=True)
    file = models.ForeignKey("builds.StoredFile", on_delete=models.PROTECT, related_name="photos")
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="photos")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return self.caption or f"{self.kind} photo {self.pk}"
