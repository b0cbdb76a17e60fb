"""Where vehicles and keys are, and which bay is booked and which is taken."""

from django.conf import settings
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateTimeRangeField, RangeOperators
from django.db import models
from django.db.models import Deferrable, Q

from builds.models.columns import EditableRow

__all__ = ["Bay", "BayPlace", "Booking", "CheckIn", "KeyEvent", "LocationEvent", "Occupancy"]


class Bay(EditableRow):
    """A bay of the shop and what it has."""

    name = models.CharField(max_length=40, unique=True)
    line = models.PositiveIntegerField()
    features = models.CharField(max_length=120, blank=True)
    closed_note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["line", "pk"]

    def __str__(self) -> str:
        return self.name


class BayPlace(models.Model):
    """One place for one vehicle in a bay; a bay for two has two."""

    bay = models.ForeignKey("builds.Bay", on_delete=models.PROTECT, related_name="places")
    number = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ["bay__line", "number"]
        constraints = [models.UniqueConstraint(fields=["bay", "number"], name="%(app_label)s_%(class)s_once")]

    def __str__(self) -> str:
        return f"{self.bay}" if self.number == 1 else f"{self.bay}, place {self.number}"


def _no_overlap(column: str, what: str) -> ExclusionConstraint:
    """Unconditional and deferrable, so that two stays can be swapped in one transaction."""
    return ExclusionConstraint(
        name=f"%(app_label)s_%(class)s_one_per_{what}",
        expressions=[(column, RangeOperators.EQUAL), ("during", RangeOperators.OVERLAPS)],
        deferrable=Deferrable.DEFERRED,
    )


class Booking(EditableRow):
    """The plan: a vehicle is to stand in a bay place during a time."""

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="bookings")
    vehicle = models.ForeignKey("builds.Vehicle", on_delete=models.PROTECT, related_name="bookings")
    place = models.ForeignKey("builds.BayPlace", on_delete=models.PROTECT, related_name="bookings")
    during = DateTimeRangeField()
    purpose = models.CharField(max_length=80, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="bookings")

    class Meta:
        ordering = ["during", "pk"]
        constraints = [
            _no_overlap("place", "place"),
            _no_overlap("vehicle", "vehicle"),
            models.CheckConstraint(
                condition=Q(during__isempty=False, during__lower_inf=False, during__upper_inf=False),
                name="%(app_label)s_%(class)s_has_start_and_end",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.build} in {self.place}"


class Occupancy(models.Model):
    """The fact: a vehicle stands in a bay place; the end stays open while it is in."""

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="occupancies")
    vehicle = models.ForeignKey("builds.Vehicle", on_delete=models.PROTECT, related_name="occupancies")
    place = models.ForeignKey("builds.BayPlace", on_delete=models.PROTECT, related_name="occupancies")
    during = DateTimeRangeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="occupancies")

    class Meta:
        ordering = ["during", "pk"]
        constraints = [
            _no_overlap("place", "place"),
            _no_overlap("vehicle", "vehicle"),
            models.CheckConstraint(
                condition=Q(during__isempty=False, during__lower_inf=False), name="%(app_label)s_%(class)s_has_start"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.build} in {self.place}"


class LocationEvent(models.Model):
    """A vehicle was put somewhere: append-only."""

    class Kind(models.TextChoices):
        BAY = "bay", "bay"
        LOT = "lot", "lot"
        SUBLET = "sublet", "sublet"
        CUSTOMER = "customer", "with the customer"
        ROAD = "road", "on the road"

    event_id = models.UUIDField(unique=True)
    vehicle = models.ForeignKey("builds.Vehicle", on_delete=models.PROTECT, related_name="locations")
    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="locations")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    spot = models.CharField(max_length=80, help_text="Bay 2, lot row C 4, the paint shop's name.")
    bay_place = models.ForeignKey(
        "builds.BayPlace", on_delete=models.PROTECT, null=True, blank=True, related_name="locations"
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.vehicle} at {self.spot}"


class KeyEvent(models.Model):
    """A vehicle's keys changed place or hands: append-only."""

    event_id = models.UUIDField(unique=True)
    vehicle = models.ForeignKey("builds.Vehicle", on_delete=models.PROTECT, related_name="keys")
    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="keys")
    count = models.PositiveSmallIntegerField()
    hook = models.CharField(max_length=40, blank=True)
    holder = models.CharField(max_length=80, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(hook="", holder=""), name="%(app_label)s_%(class)s_says_where"),
        ]

    def __str__(self) -> str:
        return f"{self.count} keys of {self.vehicle}"


class CheckIn(models.Model):
    """A vehicle came in or went out, as it was found: append-only."""

    class Direction(models.TextChoices):
        IN = "in", "in"
        OUT = "out", "out"

    event_id = models.UUIDField(unique=True)
    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="check_ins")
    vehicle = models.ForeignKey("builds.Vehicle", on_delete=models.PROTECT, related_name="check_ins")
    direction = models.CharField(max_length=5, choices=Direction.choices)
    odometer_km = models.DecimalField(max_digits=9, decimal_places=1)
    fuel_ratio = models.DecimalField(max_digits=4, decimal_places=3)
    warning_lamps = models.CharField(max_length=200, blank=True)
    stored_faults = models.CharField(max_length=200, blank=True)
    damage = models.TextField(blank=True)
    loose_property = models.TextField(blank=True)
    plate = models.CharField(max_length=20, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(odometer_km__gte=0), name="%(app_label)s_%(class)s_odometer_not_negative"
            ),
            models.CheckConstraint(
                condition=Q(fuel_ratio__gte=0, fuel_ratio__lte=1), name="%(app_label)s_%(class)s_fuel_is_ratio"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.vehicle} {self.direction}"
