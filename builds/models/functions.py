"""What the controls of a build do, and what is loaded into its programmable devices."""

from django.conf import settings
from django.db import models

from builds.models.columns import EditableRow

__all__ = ["FunctionSchedule", "LoadedFile"]


class FunctionSchedule(EditableRow):
    """The function schedule of a working design: text in the schedules' own language, which a form edits as well."""

    build = models.OneToOneField("builds.Build", on_delete=models.CASCADE, related_name="schedule")
    text = models.TextField(max_length=200_000)

    def __str__(self) -> str:
        return f"functions of {self.build}"


class LoadedFile(EditableRow):
    """One loading of one device: the file, the schedule it was written from, who loaded it and who read it back."""

    serial = models.ForeignKey("builds.SerialNumber", on_delete=models.PROTECT, related_name="loaded_files")
    file_name = models.CharField(max_length=120)
    file_sha256 = models.CharField(max_length=64)
    file_version = models.CharField(max_length=40)
    firmware = models.CharField(max_length=40)
    schedule_sha256 = models.CharField(max_length=64)
    loaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    loaded_at = models.DateTimeField()
    read_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    read_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["loaded_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(file_sha256__regex="^[0-9a-f]{64}$", schedule_sha256__regex="^[0-9a-f]{64}$"),
                name="%(app_label)s_%(class)s_hashes_are_hashes",
            ),
            models.CheckConstraint(
                condition=models.Q(read_back_by__isnull=True, read_back_at__isnull=True)
                | models.Q(read_back_by__isnull=False, read_back_at__isnull=False),
                name="%(app_label)s_%(class)s_read_back_paired",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.file_name} {self.file_version} in {self.serial}"
