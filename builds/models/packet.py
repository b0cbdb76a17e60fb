"""The delivery packet, the customer's links, and what the customer signed."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q

__all__ = ["Acceptance", "CustomerLink", "PacketIssue"]


class PacketIssue(models.Model):
    """
    One issue of a build's packet: its whole input frozen, its render followed as a row.

    The stored file is what is served and signed; it is never made again to serve it. ``attempt`` and ``lease_until``
    say which worker may finish it.
    """

    class State(models.TextChoices):
        QUEUED = "queued", "Queued"
        RENDERING = "rendering", "Rendering"
        READY = "ready", "Ready"
        FAILED = "failed", "Failed"
        CANCELLED = "cancelled", "Cancelled"

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="packets")
    number = models.PositiveIntegerField()
    revision = models.ForeignKey("builds.Revision", on_delete=models.PROTECT, related_name="packets")
    as_built = models.ForeignKey("builds.FrozenDocument", on_delete=models.PROTECT, related_name="packets")
    time_zone = models.CharField(max_length=60)
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="packets")
    issued_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=State.choices, default=State.QUEUED)
    attempt = models.PositiveIntegerField(default=0)
    lease_until = models.DateTimeField(null=True, blank=True)
    cancel_wanted = models.BooleanField(default=False)
    progress_words = models.CharField(max_length=80, blank=True)
    progress_page = models.PositiveIntegerField(default=0)
    progress_pages = models.PositiveIntegerField(null=True, blank=True)
    failure = models.CharField(max_length=300, blank=True)
    fingerprint = models.JSONField(null=True, blank=True)
    file = models.ForeignKey(
        "builds.StoredFile", on_delete=models.PROTECT, null=True, blank=True, related_name="packets"
    )
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["build", "number"], name="%(app_label)s_%(class)s_number_once"),
            models.UniqueConstraint(
                fields=["build"],
                condition=Q(state__in=["queued", "rendering"]),
                name="%(app_label)s_%(class)s_one_open",
            ),
            models.CheckConstraint(
                condition=Q(state="ready", file__isnull=False, finished_at__isnull=False)
                | (~Q(state="ready") & Q(file__isnull=True)),
                name="%(app_label)s_%(class)s_ready_has_file",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.build} packet {self.number}"


class CustomerLink(models.Model):
    """A way in without an account; only the hash of its token is kept."""

    class Kind(models.TextChoices):
        HANDOVER = "handover", "handover link"
        VEHICLE = "vehicle", "vehicle link"

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="links")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_for = models.CharField(max_length=120, blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="links")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="revoked_links"
    )

    class Meta:
        ordering = ["made_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="vehicle", expires_at__isnull=True) | Q(kind="handover", expires_at__isnull=False),
                name="%(app_label)s_%(class)s_handover_expires",
            ),
            models.CheckConstraint(
                condition=Q(revoked_at__isnull=True, revoked_by__isnull=True)
                | Q(revoked_at__isnull=False, revoked_by__isnull=False),
                name="%(app_label)s_%(class)s_revoked_says_who_and_when",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} link of {self.build}"


class Acceptance(models.Model):
    """The customer's signature, bound to the packet file's SHA-256: append-only."""

    packet = models.ForeignKey("builds.PacketIssue", on_delete=models.PROTECT, related_name="acceptances")
    link = models.ForeignKey("builds.CustomerLink", on_delete=models.PROTECT, related_name="acceptances")
    file_sha256 = models.CharField(max_length=64)
    typed_name = models.CharField(max_length=120)
    capacity = models.CharField(max_length=80, blank=True, help_text="In what capacity they sign.")
    consent_words = models.TextField(help_text="The sentence agreed to, as it stood on the page.")
    address = models.GenericIPAddressField(null=True, blank=True)
    browser = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["packet"], name="%(app_label)s_%(class)s_once_per_packet"),
            models.CheckConstraint(condition=~Q(typed_name=""), name="%(app_label)s_%(class)s_has_name"),
        ]

    def __str__(self) -> str:
        return f"{self.packet} accepted by {self.typed_name}"
