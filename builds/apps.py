"""The builds app."""

from django.apps import AppConfig


class BuildsConfig(AppConfig):
    """Build orders, parts bills, circuit schedules, checklists, bays and packets."""

    name = "builds"
    default_auto_field = "django.db.models.BigAutoField"
