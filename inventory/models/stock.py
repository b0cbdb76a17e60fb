"""Stock as an append-only ledger; the balance of a part is kept by a trigger and can never go below zero."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

__all__ = ["StockBalance", "StockEntry"]


class StockEntry(models.Model):
    """
    One movement of one part: append-only.

    ``on_hand_change`` and ``reserved_change`` carry their signs; ``job`` is the build number a reservation or an issue is
    for. Reserving moves only ``reserved``; issuing takes from both.
    """

    class Kind(models.TextChoices):
        RECEIVE = "receive", "received"
        COUNT = "count", "counted"
        RESERVE = "reserve", "reserved"
        RELEASE = "release", "reservation released"
        ISSUE = "issue", "issued"
        RETURN = "return", "returned"

    event_id = models.UUIDField(unique=True)
    part = models.ForeignKey("inventory.Part", on_delete=models.PROTECT, related_name="stock_entries")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    on_hand_change = models.DecimalField(max_digits=12, decimal_places=3, default=0)
    reserved_change = models.DecimalField(max_digits=12, decimal_places=3, default=0)
    job = models.CharField(max_length=12, blank=True)
    job_line = models.CharField(max_length=40, blank=True)
    reference = models.CharField(max_length=80, blank=True)
    unit_cost = models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="stock_entries")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(fields=["part", "id"], name="inventory_stock_part"),
            models.Index(fields=["job", "part"], name="inventory_stock_job"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=~Q(on_hand_change=0, reserved_change=0), name="%(app_label)s_%(class)s_changes_something"
            ),
            models.CheckConstraint(
                condition=Q(reserved_change=0) | ~Q(job=""), name="%(app_label)s_%(class)s_reservation_names_job"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.part}"


class StockBalance(models.Model):
    """The sum of a part's ledger, written only by the ledger's trigger."""

    part = models.OneToOneField("inventory.Part", on_delete=models.PROTECT, primary_key=True, related_name="balance")
    on_hand = models.DecimalField(max_digits=12, decimal_places=3, default=0)
    reserved = models.DecimalField(max_digits=12, decimal_places=3, default=0)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(on_hand__gte=0), name="%(app_label)s_%(class)s_on_hand_not_negative"),
            models.CheckConstraint(condition=Q(reserved__gte=0), name="%(app_label)s_%(class)s_reserved_not_negative"),
            models.CheckConstraint(
                condition=Q(reserved__lte=F("on_hand")), name="%(app_label)s_%(class)s_available_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part}: {self.on_hand} on hand"
