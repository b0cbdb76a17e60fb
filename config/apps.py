"""The project package as an app: it has no tables, only the rules laid over everyone's."""

from django.apps import AppConfig, apps
from django.db.models.signals import post_migrate


class ConfigConfig(AppConfig):
    """Puts the database's own guards on after each migrate."""

    name = "config"

    def ready(self) -> None:
        from config.database.rules import apply_database_rules

        # Django sends the signal only for apps that have models; builds is the last word on the tables.
        post_migrate.connect(apply_database_rules, sender=apps.get_app_config("builds"))
