"""How the vehicle of a working design is used over a day, and what is shed to spare its batteries."""

from django.db import models
from django.db.models import Q

from builds.models.columns import (
    EditableRow,
    current_column,
    ratio_column,
    resistance_column,
    seconds_column,
    stretch_column,
    temperature_column,
    voltage_column,
)

__all__ = ["DutyProfile", "DutySegment", "ShedStep"]


class DutyProfile(EditableRow):
    """Stretches of use one after the other, and what starting the engine takes in them."""

    build = models.ForeignKey("builds.Build", on_delete=models.CASCADE, related_name="duty_profiles")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    name = models.CharField(max_length=80)
    start_ratio = ratio_column(default=1)
    battery_c = temperature_column(default=25)
    crank_a = current_column(null=True, blank=True)
    crank_s = seconds_column(null=True, blank=True)
    crank_least_v = voltage_column(null=True, blank=True)
    crank_cable_mohm = resistance_column(null=True, blank=True)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["build", "key"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=Q(start_ratio__gt=0, start_ratio__lte=1), name="%(app_label)s_%(class)s_start_is_ratio"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.name}"


class DutySegment(EditableRow):
    """A stretch of a profile: a condition and how long it lasts; the rows' order is the order in time."""

    build = models.ForeignKey("builds.Build", on_delete=models.CASCADE, related_name="duty_segments")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    profile = models.ForeignKey("builds.DutyProfile", on_delete=models.CASCADE, related_name="segments")
    condition = models.ForeignKey("builds.OperatingCondition", on_delete=models.PROTECT, related_name="segments")
    duration_min = stretch_column()
    engine_stops = models.PositiveSmallIntegerField(default=0)
    stop_s = seconds_column(default=60)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["build", "key"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=Q(duration_min__gt=0, stop_s__gt=0), name="%(app_label)s_%(class)s_times_above_zero"
            ),
        ]

    def __str__(self) -> str:
        return f"segment {self.key}"


class ShedStep(EditableRow):
    """A step of the shedding; the loads that name it go off together."""

    build = models.ForeignKey("builds.Build", on_delete=models.CASCADE, related_name="shed_steps")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    name = models.CharField(max_length=80)
    off_below_v = voltage_column()
    on_above_v = voltage_column()
    off_delay_s = seconds_column(default=60)
    on_delay_s = seconds_column(default=60)
    battery = models.ForeignKey(
        "builds.PowerNode", on_delete=models.PROTECT, null=True, blank=True, related_name="shed_steps"
    )
    ignores_crank = models.BooleanField(default=True)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["build", "key"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=Q(off_below_v__gt=0, on_above_v__gte=models.F("off_below_v")),
                name="%(app_label)s_%(class)s_off_below_on",
            ),
            models.CheckConstraint(
                condition=Q(off_delay_s__gte=0, on_delay_s__gte=0), name="%(app_label)s_%(class)s_delays_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.name}"
