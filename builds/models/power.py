"""The power tree of a working design: its nodes and the runs that join them."""

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from builds.engineering.vocabulary import BatteryKind, IsolatorKind, NodeKind, RunSide
from builds.models.columns import (
    EditableRow,
    capacity_column,
    current_column,
    curve_column,
    exponent_column,
    hours_column,
    length_column,
    minutes_column,
    power_column,
    ratio_column,
    resistance_column,
    temperature_column,
    voltage_column,
)

__all__ = ["PowerNode", "Run"]


class PowerNode(EditableRow):
    """A source, isolator, disconnect, converter, bus, panel, module, access point, ground or chassis body."""

    build = models.ForeignKey("builds.Build", on_delete=models.CASCADE, related_name="nodes")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    kind = models.CharField(max_length=30, choices=[(kind.value, kind.value) for kind in NodeKind])
    name = models.CharField(max_length=80)
    zone = models.CharField(max_length=40)
    nominal_v = voltage_column(default=12)
    rating_a = current_column(null=True, blank=True)
    resistance_mohm = resistance_column(default=0)
    chassis = models.CharField(max_length=40, blank=True)
    battery_capacity_ah = capacity_column(null=True, blank=True)
    battery_rated_hours = hours_column(null=True, blank=True)
    battery_peukert_exponent = exponent_column(null=True, blank=True)
    battery_internal_mohm = resistance_column(null=True, blank=True)
    battery_open_circuit_v = voltage_column(null=True, blank=True)
    battery_usable_ratio = ratio_column(null=True, blank=True)
    battery_reserve_min = minutes_column(null=True, blank=True)
    battery_acceptance_per_h = ratio_column(null=True, blank=True)
    battery_least_charge_c = temperature_column(null=True, blank=True)
    battery_cut_off_v = voltage_column(null=True, blank=True)
    battery_self_discharge_per_day_ratio = ratio_column(null=True, blank=True)
    alternator_rated_a = current_column(null=True, blank=True)
    alternator_idle_ratio = ratio_column(null=True, blank=True)
    alternator_speed_ratio = ratio_column(null=True, blank=True)
    panel_positions = models.PositiveSmallIntegerField(null=True, blank=True)
    panel_columns = models.PositiveSmallIntegerField(null=True, blank=True)
    panel_hinge = models.CharField(max_length=20, blank=True)
    alternator_low_v = voltage_column(null=True, blank=True)
    alternator_high_v = voltage_column(null=True, blank=True)
    alternator_pulley_ratio = ratio_column(null=True, blank=True)
    alternator_points = curve_column()
    source_limit_a = current_column(null=True, blank=True)
    source_low_v = voltage_column(null=True, blank=True)
    source_high_v = voltage_column(null=True, blank=True)
    converter_output_v = voltage_column(null=True, blank=True)
    converter_limit_a = current_column(null=True, blank=True)
    converter_efficiency_ratio = ratio_column(null=True, blank=True)
    converter_return_node = models.CharField(max_length=40, blank=True)
    converter_idle_w = power_column(null=True, blank=True)
    converter_min_v = voltage_column(null=True, blank=True)
    access_point = models.CharField(max_length=40, blank=True)
    metal = models.BooleanField(default=True)
    battery_kind = models.CharField(
        max_length=30, choices=[(kind.value, kind.value) for kind in BatteryKind], default=BatteryKind.LEAD
    )
    isolator = models.CharField(
        max_length=20, choices=[(kind.value, kind.value) for kind in IsolatorKind], default=IsolatorKind.RELAY
    )
    forward_v = voltage_column(null=True, blank=True)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["build", "key"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(condition=Q(nominal_v__gt=0), name="%(app_label)s_%(class)s_nominal_above_zero"),
            models.CheckConstraint(
                condition=Q(resistance_mohm__gte=0), name="%(app_label)s_%(class)s_resistance_not_negative"
            ),
            models.CheckConstraint(
                condition=~Q(kind=NodeKind.BATTERY)
                | Q(
                    battery_capacity_ah__isnull=False, battery_rated_hours__isnull=False,
                    battery_peukert_exponent__isnull=False, battery_internal_mohm__isnull=False,
                    battery_open_circuit_v__isnull=False, battery_usable_ratio__isnull=False,
                ),
                name="%(app_label)s_%(class)s_battery_complete",
            ),
            models.CheckConstraint(
                condition=~Q(kind=NodeKind.ALTERNATOR)
                | Q(
                    alternator_rated_a__isnull=False, alternator_idle_ratio__isnull=False,
                    alternator_speed_ratio__isnull=False,
                ),
                name="%(app_label)s_%(class)s_alternator_complete",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=(NodeKind.DCDC, NodeKind.SHORE, NodeKind.SOLAR))
                | Q(source_limit_a__isnull=False, source_low_v__isnull=False, source_high_v__isnull=False),
                name="%(app_label)s_%(class)s_source_complete",
            ),
            models.CheckConstraint(
                condition=~Q(kind=NodeKind.CONVERTER)
                | Q(
                    converter_output_v__isnull=False, converter_limit_a__isnull=False,
                    converter_efficiency_ratio__isnull=False, converter_idle_w__isnull=False,
                    converter_min_v__isnull=False,
                ) & ~Q(converter_return_node=""),
                name="%(app_label)s_%(class)s_converter_complete",
            ),
            models.CheckConstraint(
                condition=~Q(kind=NodeKind.ACCESS_POINT) | ~Q(access_point=""),
                name="%(app_label)s_%(class)s_names_access_point",
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"{self.key} {self.name}"


class Run(EditableRow):
    """A cable between two nodes; ``from_node`` is the end nearer the battery."""

    build = models.ForeignKey("builds.Build", on_delete=models.CASCADE, related_name="runs")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    from_node = models.ForeignKey("builds.PowerNode", on_delete=models.PROTECT, related_name="runs_out")
    to_node = models.ForeignKey("builds.PowerNode", on_delete=models.PROTECT, related_name="runs_in")
    side = models.CharField(max_length=10, choices=[(side.value, side.value) for side in RunSide])
    gauge = models.CharField(max_length=10)
    length_m = length_column()
    insulation_c = temperature_column(default=125)
    parallel = models.PositiveSmallIntegerField(default=1)
    bundle = models.PositiveSmallIntegerField(default=1)
    zones = ArrayField(models.CharField(max_length=40), default=list, blank=True)
    device_family = models.CharField(max_length=20, blank=True)
    device_rating_a = current_column(null=True, blank=True)
    device_distance_m = length_column(default=0)
    resistance_mohm = resistance_column(null=True, blank=True)
    makers_own = models.BooleanField(default=False)
    bundle_name = models.CharField(max_length=40, blank=True)
    device_at_both_ends = models.BooleanField(default=False)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["build", "key"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(condition=Q(length_m__gte=0), name="%(app_label)s_%(class)s_length_not_negative"),
            models.CheckConstraint(condition=Q(parallel__gte=1, bundle__gte=1), name="%(app_label)s_%(class)s_counts"),
            models.CheckConstraint(
                condition=~Q(from_node=models.F("to_node")), name="%(app_label)s_%(class)s_joins_two_nodes"
            ),
        ]

    def __str__(self) -> str:
        return self.key
