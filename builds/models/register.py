"""What a build remembers of its own making: serials, splices, body penetrations, customer's gear, parts taken off."""

from django.conf import settings
from django.db import models

from builds.models.columns import EditableRow

__all__ = ["BodyPenetration", "CustomerGear", "RemovedPart", "SerialNumber", "Splice"]


class _Entry(EditableRow):
    """Who wrote an entry and when."""

    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        abstract = True
        ordering = ["at", "pk"]


class SerialNumber(_Entry):
    """The serial of one device as fitted; a swapped one stays with what replaced it."""

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="serials")
    part_line = models.ForeignKey("builds.PartsBillLine", on_delete=models.PROTECT, related_name="serials")
    serial = models.CharField(max_length=60)
    note = models.CharField(max_length=160, blank=True)
    replaced_by = models.OneToOneField(
        "builds.SerialNumber", on_delete=models.PROTECT, null=True, blank=True, related_name="replaces"
    )

    class Meta(_Entry.Meta):
        constraints = [
            models.UniqueConstraint(fields=["part_line", "serial"], name="%(app_label)s_%(class)s_once"),
        ]

    def __str__(self) -> str:
        return self.serial


class Splice(_Entry):
    """A joint in a wire, and where the next person finds it."""

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="splices")
    circuit_number = models.CharField(max_length=40)
    place = models.CharField(max_length=120)
    method = models.CharField(max_length=80)

    def __str__(self) -> str:
        return f"{self.circuit_number}: {self.place}"


class BodyPenetration(_Entry):
    """A hole in the body, what seals it, and its photo."""

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="penetrations")
    label = models.CharField(max_length=20)
    place = models.CharField(max_length=120)
    diameter_mm = models.DecimalField(max_digits=6, decimal_places=1)
    sealed_with = models.CharField(max_length=120, blank=True)
    photo = models.ForeignKey("builds.Photo", on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta(_Entry.Meta):
        constraints = [
            models.UniqueConstraint(fields=["build", "label"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=models.Q(diameter_mm__gt=0), name="%(app_label)s_%(class)s_diameter_above_zero"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.label}: {self.place}"


class CustomerGear(_Entry):
    """Gear the customer brings: when it is due, when it came, in what state."""

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="gear")
    description = models.CharField(max_length=120)
    due_on = models.DateField(null=True, blank=True)
    received_at = models.DateTimeField(null=True, blank=True)
    condition = models.CharField(max_length=160, blank=True)
    photo = models.ForeignKey("builds.Photo", on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    def __str__(self) -> str:
        return self.description


class RemovedPart(_Entry):
    """A factory part taken off: where it lies and what becomes of it."""

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="removed_parts")
    description = models.CharField(max_length=120)
    kept_at = models.CharField(max_length=80)
    disposition = models.CharField(max_length=80)

    def __str__(self) -> str:
        return self.description
