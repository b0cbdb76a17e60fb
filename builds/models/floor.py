"""The checklist of a build and what people do on it: ticks, readings, clock entries, hold point signatures."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from builds.engineering.vocabulary import HoldSigner, Phase, Place
from builds.models.columns import voltage_column

__all__ = ["ChecklistStep", "HoldSignature", "StepResult", "Tick", "TimeEntry"]


class StepResult(models.TextChoices):
    """What was found at a step; an open step has no result."""

    PASS = "pass", "Pass"
    DEFECTIVE = "defective", "Defective"
    NOT_APPLICABLE = "not_applicable", "Not applicable"


class ChecklistStep(models.Model):
    """One step of a build, made from its design; its result repeats the newest tick (or the hold signature)."""

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="steps")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=80)
    phase = models.CharField(max_length=10, choices=[(phase.value, phase.value) for phase in Phase])
    place = models.CharField(max_length=10, choices=[(place.value, place.value) for place in Place])
    operation_key = models.CharField(max_length=40, blank=True)
    title = models.CharField(max_length=120)
    why = models.CharField(max_length=200, blank=True)
    instructions = models.JSONField(default=list)
    subject = models.CharField(max_length=80, blank=True)
    reading_unit = models.CharField(max_length=12, blank=True)
    reading_name = models.CharField(max_length=80, blank=True)
    reading_min = models.DecimalField(max_digits=12, decimal_places=4, null=True)
    reading_max = models.DecimalField(max_digits=12, decimal_places=4, null=True)
    reading_lost_max_v = models.DecimalField(
        max_digits=12,
        decimal_places=4,
        null=True,
        help_text="What may be lost between the battery's posts and the reading.",
    )
    reading_calculated = models.DecimalField(max_digits=12, decimal_places=4, null=True)
    reading_decimals = models.PositiveSmallIntegerField(default=2)
    reading_instrument = models.CharField(
        max_length=40, blank=True, help_text="The kind of instrument it is read with."
    )
    photo_required = models.BooleanField(default=False)
    is_hold_point = models.BooleanField(default=False)
    covers = models.ManyToManyField("self", symmetrical=False, related_name="covered_by", blank=True)
    retired = models.BooleanField(default=False, help_text="The design no longer asks for it; its ticks stay.")
    result = models.CharField(max_length=20, choices=StepResult.choices, blank=True)
    result_at = models.DateTimeField(null=True)
    result_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["build", "key"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=Q(result="", result_at__isnull=True, result_by__isnull=True)
                | (~Q(result="") & Q(result_at__isnull=False, result_by__isnull=False)),
                name="%(app_label)s_%(class)s_result_says_who_and_when",
            ),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def asks_reading(self) -> bool:
        """Whether the step wants a figure."""
        return bool(self.reading_unit)


class Tick(models.Model):
    """One result that one person gave a step, with its reading: append-only; the id is made by the device."""

    event_id = models.UUIDField(unique=True)
    device = models.CharField(max_length=40, blank=True)
    device_sequence = models.PositiveBigIntegerField(null=True)
    step = models.ForeignKey("builds.ChecklistStep", on_delete=models.PROTECT, related_name="ticks")
    result = models.CharField(max_length=20, choices=StepResult.choices)
    reading = models.DecimalField(max_digits=12, decimal_places=4, null=True)
    reading_at_v = voltage_column(null=True)
    instrument = models.CharField(max_length=40, blank=True)
    remark = models.TextField(blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="ticks")
    at = models.DateTimeField(help_text="When it was done, by the device's clock.")
    received_at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["device", "device_sequence"], name="%(app_label)s_%(class)s_device_sequence_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.step}: {self.result}"


class HoldSignature(models.Model):
    """A hold point signed, by someone with no hand in what it covers (the database refuses others): append-only."""

    event_id = models.UUIDField(unique=True)
    step = models.ForeignKey("builds.ChecklistStep", on_delete=models.PROTECT, related_name="signatures")
    passed = models.BooleanField()
    basis = models.CharField(max_length=20, choices=[(signer.value, signer.value) for signer in HoldSigner])
    remark = models.TextField(blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="hold_signatures")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.step}: {'passed' if self.passed else 'sent back'} by {self.by}"


class TimeEntry(models.Model):
    """Someone's time on a build, open until they clock off; one open entry per person."""

    event_id = models.UUIDField(unique=True)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="time_entries")
    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="time_entries")
    step = models.ForeignKey("builds.ChecklistStep", on_delete=models.PROTECT, null=True, related_name="time_entries")
    operation_key = models.CharField(max_length=40, blank=True)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    correction_reason = models.CharField(max_length=200, blank=True)
    corrected_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    corrected_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["started_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(correction_reason="", corrected_by__isnull=True, corrected_at__isnull=True)
                | (~Q(correction_reason="") & Q(corrected_by__isnull=False, corrected_at__isnull=False)),
                name="%(app_label)s_%(class)s_correction_says_who_and_why",
            ),
            models.UniqueConstraint(
                fields=["person"],
                condition=Q(ended_at__isnull=True),
                name="%(app_label)s_%(class)s_one_open_per_person",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=models.F("started_at")),
                name="%(app_label)s_%(class)s_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person} on {self.build}"
