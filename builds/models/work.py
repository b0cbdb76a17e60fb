"""What is bought and what is done: the parts bill and the operations of a working design."""

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from builds.engineering.vocabulary import Phase, Place, SuppliedBy
from builds.models.columns import EditableRow, hours_column, mass_column, quantity_column, unit_price_column

__all__ = ["Operation", "PartsBillLine"]


class Operation(EditableRow):
    """A piece of work with its standard hours each; ``after`` names the operations that come first."""

    build = models.ForeignKey("builds.Build", on_delete=models.CASCADE, related_name="operations")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    name = models.CharField(max_length=120)
    place = models.CharField(max_length=10, choices=[(place.value, place.value) for place in Place])
    phase = models.CharField(max_length=10, choices=[(phase.value, phase.value) for phase in Phase])
    skill = models.CharField(max_length=40)
    standard_h = hours_column()
    quantity = models.PositiveSmallIntegerField(default=1)
    crew = models.PositiveSmallIntegerField(default=1)
    after = ArrayField(models.CharField(max_length=40), default=list, blank=True)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["build", "key"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=Q(standard_h__gte=0, quantity__gte=1, crew__gte=1), name="%(app_label)s_%(class)s_figures"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PartsBillLine(EditableRow):
    """A part on this build, at the price, cost and mass it had when it was chosen."""

    build = models.ForeignKey("builds.Build", on_delete=models.CASCADE, related_name="parts")
    part = models.ForeignKey("inventory.Part", on_delete=models.PROTECT, related_name="bill_lines")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    description = models.CharField(max_length=160)
    quantity = quantity_column()
    unit = models.CharField(max_length=20, default="each")
    zone = models.CharField(max_length=40, blank=True)
    installed_by = models.CharField(max_length=40, blank=True)
    supplied_by = models.CharField(max_length=20, choices=[(who.value, who.value) for who in SuppliedBy])
    unit_cost = unit_price_column(default=0)
    unit_price = unit_price_column(default=0)
    taxed = models.BooleanField(default=True)
    mass_kg = mass_column(default=0)
    serial_required = models.BooleanField(default=False)
    programmable = models.BooleanField(default=False)
    removed = models.BooleanField(default=False)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["build", "key"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=Q(quantity__gt=0, unit_cost__gte=0, unit_price__gte=0, mass_kg__gte=0),
                name="%(app_label)s_%(class)s_figures_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.description}"
