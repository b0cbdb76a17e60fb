"""The project package as an app: it has no tables, only the rules laid over everyone's."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class ConfigConfig(AppConfig):
    """Puts the database's own guards on after each migrate."""

    name = "config"

    def ready(self) -> None:
        from config.database.rules import apply_database_rules

        post_migrate.connect(apply_database_rules, sender=self)
