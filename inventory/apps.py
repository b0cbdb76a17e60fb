"""The inventory app."""

from django.apps import AppConfig


class InventoryConfig(AppConfig):
    """The parts catalogue and the stock ledger."""

    name = "inventory"
    default_auto_field = "django.db.models.BigAutoField"
