"""A customer, and the rules they ask for."""

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.urls import reverse

from builds.engineering.vocabulary import DropCurrent
from builds.models.columns import EditableRow, ratio_column, temperature_column, voltage_column

__all__ = ["BuyerProfile", "BuyerRule", "Customer", "DropRule"]


class BuyerProfile(EditableRow):
    """A named set of rules; several customers may share one. Builds keep the profile they were opened with."""

    name = models.CharField(max_length=120, unique=True)

    def __str__(self) -> str:
        return self.name


class BuyerRule(EditableRow):
    """One rule of a profile: a key of the rule catalogue, its value, and where it comes from."""

    profile = models.ForeignKey("builds.BuyerProfile", on_delete=models.CASCADE, related_name="rules")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    number_value = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    text_value = models.CharField(max_length=120, blank=True)
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["profile", "key"], name="%(app_label)s_%(class)s_once"),
        ]

    def __str__(self) -> str:
        return f"{self.profile}: {self.key}"


class DropRule(EditableRow):
    """A limit on the voltage lost between the battery post and a load and back, or between two places on that way."""

    profile = models.ForeignKey("builds.BuyerProfile", on_delete=models.CASCADE, related_name="drop_rules")
    line = models.PositiveIntegerField()
    key = models.CharField(max_length=40)
    drop_class = models.CharField(max_length=40)
    limit_ratio = ratio_column()
    base_v = voltage_column()
    current = models.CharField(max_length=10, choices=[(item.value, item.value) for item in DropCurrent])
    conductor_temp_c = temperature_column()
    source = models.CharField(max_length=200, blank=True)
    from_node = models.CharField(max_length=40, blank=True)
    to_node = models.CharField(max_length=40, blank=True)
    conditions = ArrayField(models.CharField(max_length=40), default=list, blank=True)
    follows_bus = models.BooleanField(default=False)

    class Meta:
        ordering = ["line", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["profile", "key"], name="%(app_label)s_%(class)s_once"),
            models.CheckConstraint(
                condition=models.Q(limit_ratio__gt=0, limit_ratio__lte=1), name="%(app_label)s_%(class)s_limit_is_ratio"
            ),
            models.CheckConstraint(condition=models.Q(base_v__gt=0), name="%(app_label)s_%(class)s_base_above_zero"),
        ]

    def __str__(self) -> str:
        return f"{self.profile}: {self.key}"


class Customer(EditableRow):
    """Who ordered the build and whom the packet goes to."""

    name = models.CharField(max_length=120, unique=True)
    contact_name = models.CharField(max_length=120, blank=True)
    telephone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(blank=True)
    profile = models.ForeignKey("builds.BuyerProfile", on_delete=models.PROTECT, related_name="customers")
    invented = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("customer-detail", args=[self.pk])
