"""Vehicle models as the shop knows them, version by version, and the vehicles themselves."""

from django.db import models

from builds.engineering.vocabulary import HotWhen, Polarity
from builds.models.columns import (
    EditableRow,
    current_column,
    length_column,
    mass_column,
    millimetre_column,
    resistance_column,
    temperature_column,
    voltage_column,
)

__all__ = ["AccessPoint", "NoMountZone", "PlatformVersion", "Route", "SeatPlace", "Vehicle", "Zone"]


class PlatformVersion(EditableRow):
    """One version of a platform; a running change makes a new row, and builds keep theirs."""

    name = models.CharField(max_length=120)
    version = models.CharField(max_length=60)
    wheelbase_mm = millimetre_column()
    gvwr_kg = mass_column()
    gawr_front_kg = mass_column()
    gawr_rear_kg = mass_column()
    curb_front_kg = mass_column()
    curb_rear_kg = mass_column()
    seats = models.PositiveSmallIntegerField()
    track_mm = millimetre_column(null=True, blank=True)
    curb_left_kg = mass_column(null=True, blank=True)
    fuel_kg = mass_column(default=0)
    fuel_x_mm = millimetre_column(default=0)
    jump_posts = models.CharField(max_length=200, blank=True)
    jump_order = models.CharField(max_length=200, blank=True)
    crank_a = current_column(null=True, blank=True)
    crank_least_v = voltage_column(null=True, blank=True)
    crank_cable_mohm = resistance_column(null=True, blank=True)

    class Meta:
        ordering = ["name", "version"]
        constraints = [
            models.UniqueConstraint(fields=["name", "version"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=models.Q(
                    wheelbase_mm__gt=0, gvwr_kg__gt=0, gawr_front_kg__gt=0, gawr_rear_kg__gt=0,
                    curb_front_kg__gt=0, curb_rear_kg__gt=0, seats__gt=0,
                ),
                name="%(app_label)s_%(class)s_above_zero",
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"{self.name}, {self.version}"


class Zone(models.Model):
    """A part of the platform with its own hottest ambient, place and load limit."""

    platform = models.ForeignKey("builds.PlatformVersion", on_delete=models.CASCADE, related_name="zones")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    name = models.CharField(max_length=80)
    ambient_c = temperature_column()
    x_mm = millimetre_column()
    y_mm = millimetre_column()
    max_load_kg = mass_column(null=True, blank=True)
    sealed = models.BooleanField(default=True)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [models.UniqueConstraint(fields=["platform", "key"], name="%(app_label)s_%(class)s_once")]

    def __str__(self) -> str:
        return self.name


class Route(models.Model):
    """A way for wire between two zones of a platform."""

    platform = models.ForeignKey("builds.PlatformVersion", on_delete=models.CASCADE, related_name="routes")
    line = models.PositiveIntegerField()
    from_zone = models.CharField(max_length=40)
    to_zone = models.CharField(max_length=40)
    length_m = length_column()

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(length_m__gte=0), name="%(app_label)s_%(class)s_length_not_negative"
            )
        ]

    def __str__(self) -> str:
        return f"{self.from_zone} to {self.to_zone}"


class NoMountZone(models.Model):
    """A place where nothing is mounted, with the maker's guide to consult."""

    platform = models.ForeignKey("builds.PlatformVersion", on_delete=models.CASCADE, related_name="no_mount_zones")
    line = models.PositiveIntegerField()
    zone = models.CharField(max_length=40)
    name = models.CharField(max_length=80)
    guide = models.CharField(max_length=200)

    class Meta:
        ordering = ["line", "pk"]

    def __str__(self) -> str:
        return self.name


class AccessPoint(models.Model):
    """A place where the vehicle's maker lets others take or give current, with its allowances."""

    platform = models.ForeignKey("builds.PlatformVersion", on_delete=models.CASCADE, related_name="access_points")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    name = models.CharField(max_length=80)
    zone = models.CharField(max_length=40)
    allowance_a = current_column()
    function = models.CharField(max_length=120, blank=True)
    polarity = models.CharField(
        max_length=20, choices=[(item.value, item.value) for item in Polarity], default=Polarity.POSITIVE
    )
    hot_when = models.CharField(
        max_length=20, choices=[(item.value, item.value) for item in HotWhen], default=HotWhen.ALWAYS
    )
    device_rating_a = current_column(null=True, blank=True)
    group = models.CharField(max_length=40, blank=True)
    group_allowance_a = current_column(null=True, blank=True)
    guide = models.CharField(max_length=200, blank=True)
    peak_allowance_a = current_column(null=True, blank=True)
    source = models.CharField(max_length=40, blank=True)
    device_family = models.CharField(max_length=20, blank=True)
    gauge = models.CharField(max_length=10, blank=True)
    length_m = length_column(null=True, blank=True)
    resistance_mohm = resistance_column(null=True, blank=True)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["platform", "key"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=models.Q(allowance_a__gte=0), name="%(app_label)s_%(class)s_allowance_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.name}"


class SeatPlace(models.Model):
    """Seats side by side, with the middle of their occupants."""

    platform = models.ForeignKey("builds.PlatformVersion", on_delete=models.CASCADE, related_name="seat_places")
    line = models.PositiveIntegerField()
    name = models.CharField(max_length=80)
    seats = models.PositiveSmallIntegerField()
    x_mm = millimetre_column()
    y_mm = millimetre_column(default=0)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(seats__gt=0), name="%(app_label)s_%(class)s_seats_above_zero")
        ]

    def __str__(self) -> str:
        return self.name


class Vehicle(EditableRow):
    """A vehicle by its VIN; it may be known only by unit number until it arrives."""

    customer = models.ForeignKey("builds.Customer", on_delete=models.PROTECT, related_name="vehicles")
    platform = models.ForeignKey("builds.PlatformVersion", on_delete=models.PROTECT, related_name="vehicles")
    vin = models.CharField(max_length=17, blank=True)
    vin_exception = models.CharField(max_length=200, blank=True, help_text="Why a failing check digit was kept.")
    unit_number = models.CharField(max_length=40, blank=True)
    model_year = models.PositiveSmallIntegerField(null=True, blank=True)
    sold_before = models.BooleanField(default=False, help_text="First retail sale has happened.")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["vin"], condition=~models.Q(vin=""), name="%(app_label)s_%(class)s_vin_once"
            ),
        ]

    def __str__(self) -> str:
        return self.unit_number or self.vin or "vehicle not known yet"
