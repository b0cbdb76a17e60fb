"""The parts catalogue and who supplies it."""

from django.contrib.postgres.indexes import GinIndex
from django.db import models
from django.db.models import Q

__all__ = ["Part", "Supplier"]


class Supplier(models.Model):
    """A firm the shop buys from."""

    name = models.CharField(max_length=120, unique=True)
    telephone = models.CharField(max_length=40, blank=True)
    lead_days = models.PositiveSmallIntegerField(null=True, blank=True)
    invented = models.BooleanField(default=False)
    row_version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Part(models.Model):
    """A part as the shop buys it: number, unit, cost, price, mass and, for a load, its data sheet figures."""

    number = models.CharField(max_length=60, unique=True)
    description = models.CharField(max_length=160)
    unit = models.CharField(max_length=20, default="each")
    supplier = models.ForeignKey(
        "inventory.Supplier", on_delete=models.PROTECT, null=True, blank=True, related_name="parts"
    )
    unit_cost = models.DecimalField(max_digits=14, decimal_places=4, default=0)
    unit_price = models.DecimalField(max_digits=14, decimal_places=4, default=0)
    taxed = models.BooleanField(default=True)
    mass_kg = models.DecimalField(max_digits=9, decimal_places=3, default=0)
    serial_required = models.BooleanField(default=False)
    programmable = models.BooleanField(default=False)
    load_model = models.CharField(max_length=20, blank=True)
    load_current_a = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    load_at_v = models.DecimalField(max_digits=7, decimal_places=3, null=True, blank=True)
    load_min_v = models.DecimalField(max_digits=7, decimal_places=3, null=True, blank=True)
    load_inrush_a = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    load_key_off_a = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    reorder_at = models.DecimalField(max_digits=10, decimal_places=3, default=0)
    invented = models.BooleanField(default=False)
    row_version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["number"]
        indexes = [
            GinIndex(
                fields=["number", "description"], name="inventory_part_words_trgm",
                opclasses=["gin_trgm_ops", "gin_trgm_ops"],
            ),
        ]  # fmt: skip
        constraints = [
            models.CheckConstraint(
                condition=Q(unit_cost__gte=0, unit_price__gte=0, mass_kg__gte=0, reorder_at__gte=0),
                name="%(app_label)s_%(class)s_figures_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(load_model="")
                | (~Q(load_model="") & Q(load_current_a__isnull=False, load_at_v__isnull=False)),
                name="%(app_label)s_%(class)s_load_data_complete",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.description}"
