"""Circuits of a working design, their loads, and the conditions in which the loads are on."""

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from builds.engineering.vocabulary import LoadModel, ReversedBattery, SourceState, Suppression, Switching
from builds.models.columns import (
    EditableRow,
    current_column,
    hours_column,
    length_column,
    minutes_column,
    ratio_column,
    stretch_column,
    temperature_column,
    voltage_column,
)

__all__ = ["Circuit", "Load", "LoadUse", "OperatingCondition"]


class Circuit(EditableRow):
    """A numbered circuit from a panel position to its loads and back."""

    build = models.ForeignKey("builds.Build", on_delete=models.CASCADE, related_name="circuits")
    line = models.PositiveIntegerField()
    number = models.CharField(max_length=40)
    legend = models.CharField(max_length=60, blank=True)
    panel = models.ForeignKey("builds.PowerNode", on_delete=models.PROTECT, related_name="circuits_out")
    position = models.PositiveSmallIntegerField()
    device_family = models.CharField(max_length=20)
    device_rating_a = current_column()
    gauge = models.CharField(max_length=10)
    length_m = length_column()
    return_node = models.ForeignKey("builds.PowerNode", on_delete=models.PROTECT, related_name="circuits_back")
    return_length_m = length_column()
    colour = models.CharField(max_length=10, blank=True)
    insulation_c = temperature_column(default=125)
    bundle = models.PositiveSmallIntegerField(default=1)
    zones = ArrayField(models.CharField(max_length=40), default=list, blank=True)
    bundle_name = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["build", "number"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=Q(device_rating_a__gt=0), name="%(app_label)s_%(class)s_rating_above_zero"
            ),
            models.CheckConstraint(
                condition=Q(length_m__gte=0, return_length_m__gte=0),
                name="%(app_label)s_%(class)s_lengths_not_negative",
            ),
            models.CheckConstraint(condition=Q(position__gte=1, bundle__gte=1), name="%(app_label)s_%(class)s_counts"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.legend}"


class Load(EditableRow):
    """Something a circuit feeds; figures are for one of ``quantity`` alike."""

    build = models.ForeignKey("builds.Build", on_delete=models.CASCADE, related_name="loads")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    circuit = models.ForeignKey("builds.Circuit", on_delete=models.CASCADE, related_name="loads")
    name = models.CharField(max_length=80)
    zone = models.CharField(max_length=40)
    model = models.CharField(max_length=20, choices=[(model.value, model.value) for model in LoadModel])
    current_a = current_column()
    at_v = voltage_column()
    quantity = models.PositiveSmallIntegerField(default=1)
    duty_ratio = ratio_column(default=1)
    can_be_steady = models.BooleanField(default=True)
    continuous = models.BooleanField(default=True)
    inrush_a = current_column(default=0)
    min_v = voltage_column(default=0)
    key_off_a = current_column(default=0)
    drop_class = models.CharField(max_length=40, default="general")
    max_v = voltage_column(null=True, blank=True)
    switching = models.CharField(
        max_length=20, choices=[(item.value, item.value) for item in Switching], default=Switching.HIGH_SIDE
    )
    shed_step = models.ForeignKey(
        "builds.ShedStep", on_delete=models.PROTECT, null=True, blank=True, related_name="loads"
    )
    never_shed = models.BooleanField(default=False)
    run_on_min = stretch_column(default=0)
    jump_v = voltage_column(null=True, blank=True)
    reversed_battery = models.CharField(
        max_length=20, choices=[(item.value, item.value) for item in ReversedBattery], default=ReversedBattery.UNKNOWN
    )
    suppression = models.CharField(
        max_length=20, choices=[(item.value, item.value) for item in Suppression], default=Suppression.NO_COIL
    )
    other_return = models.BooleanField(default=False)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["build", "key"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=Q(
                    current_a__gte=0, inrush_a__gte=0, key_off_a__gte=0, min_v__gte=0, at_v__gt=0, quantity__gte=1
                ),
                name="%(app_label)s_%(class)s_figures_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(duty_ratio__gt=0, duty_ratio__lte=1), name="%(app_label)s_%(class)s_duty_is_ratio"
            ),
            models.CheckConstraint(
                condition=Q(max_v__isnull=True) | Q(max_v__gte=models.F("min_v")),
                name="%(app_label)s_%(class)s_window_is_one",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.name}"


class OperatingCondition(EditableRow):
    """A way the vehicle is used: what feeds it and which loads are on."""

    build = models.ForeignKey("builds.Build", on_delete=models.CASCADE, related_name="conditions")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    name = models.CharField(max_length=80)
    source_state = models.CharField(max_length=20, choices=[(state.value, state.value) for state in SourceState])
    source_low_v = voltage_column()
    source_high_v = voltage_column()
    min_hours = hours_column(null=True, blank=True)
    # names of the function schedule, which is text: nothing to refer to, so they are kept as the document says them
    input_settings = models.JSONField(default=list, blank=True)
    engine_rpm = models.PositiveSmallIntegerField(null=True, blank=True)
    ambient_c = temperature_column(null=True, blank=True)
    open_nodes = ArrayField(models.CharField(max_length=40), default=list, blank=True)
    closed_nodes = ArrayField(models.CharField(max_length=40), default=list, blank=True)
    sources = models.JSONField(default=list, blank=True)  # what sources do here, as the document says it
    reserve_test_min = minutes_column(null=True, blank=True)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["build", "key"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=Q(source_low_v__gt=0, source_high_v__gte=models.F("source_low_v")),
                name="%(app_label)s_%(class)s_low_to_high",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class LoadUse(models.Model):
    """A load that is on in a condition, at its own duty unless another is given."""

    condition = models.ForeignKey("builds.OperatingCondition", on_delete=models.CASCADE, related_name="uses")
    line = models.PositiveIntegerField()
    load = models.ForeignKey("builds.Load", on_delete=models.CASCADE, related_name="uses")
    duty_ratio = ratio_column(null=True, blank=True)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [models.UniqueConstraint(fields=["condition", "load"], name="%(app_label)s_%(class)s_once")]

    def __str__(self) -> str:
        return f"{self.load} in {self.condition}"
