"""The shop itself and the people who work in it."""

from django.contrib.auth.models import AbstractUser
from django.db import models

from builds.engineering.vocabulary import UnitSystem
from builds.models.columns import EditableRow

__all__ = ["Person", "Role", "Shop"]


class Shop(EditableRow):
    """The one shop of this database: its name, its time zone, its currency."""

    only_row = models.BooleanField(default=True, editable=False)
    name = models.CharField(max_length=120)
    address = models.TextField(blank=True)
    telephone = models.CharField(max_length=40, blank=True)
    time_zone = models.CharField(max_length=60, default="UTC")
    currency = models.CharField(max_length=3, default="USD")
    units = models.CharField(
        max_length=10, choices=[(unit.value, unit.value) for unit in UnitSystem], default=UnitSystem.US
    )
    invented = models.BooleanField(default=False, help_text="Demo data: an invented shop.")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["only_row"], name="%(app_label)s_%(class)s_only_one"),
            models.CheckConstraint(condition=models.Q(only_row=True), name="%(app_label)s_%(class)s_only_row_true"),
        ]

    def __str__(self) -> str:
        return self.name


class Role(models.TextChoices):
    """What a person does in the shop; what each may do stands in :mod:`builds.permissions`."""

    SERVICE_WRITER = "service_writer", "service writer"
    DESIGNER = "designer", "designer"
    PARTS_CLERK = "parts_clerk", "parts clerk"
    TECHNICIAN = "technician", "technician"
    INSPECTOR = "inspector", "inspector"
    MANAGER = "manager", "manager"


class Person(AbstractUser):
    """Someone who signs in; ticks, clock entries and signatures carry them for ever."""

    role = models.CharField(max_length=20, choices=Role.choices, default=Role.TECHNICIAN)
    short_name = models.CharField(max_length=40, blank=True, help_text="As printed: M. Vale")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="%(app_label)s_%(class)s_role_known"),
        ]

    def __str__(self) -> str:
        return self.short_name or self.get_full_name() or self.username
