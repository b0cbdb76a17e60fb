"""The project package as an app: no tables of its own, but what every process that uses Django needs."""

from typing import Any

from django.apps import AppConfig, apps
from django.db.backends.signals import connection_created
from django.db.models.signals import post_migrate


class ProjectConfig(AppConfig):
    """The project's commands, and the three things that hang on Django's start."""

    name = "config"
    verbose_name = "Baywright"

    def ready(self) -> None:
        """Bind tasks to our Celery application, look at each database's version, guard the tables."""
        from config import celery  # noqa: F401  (importing it makes it the current application)
        from config.database.rules import apply_database_rules

        connection_created.connect(look_at_version, dispatch_uid="config-database-version")
        # Django sends the signal only for apps that have models; builds is the last word on the tables.
        post_migrate.connect(apply_database_rules, sender=apps.get_app_config("builds"))


def look_at_version(*, connection: Any, **_: Any) -> None:
    """Refuse a PostgreSQL that is too old, in one sentence, at the first connection."""
    from config.postgresql import require_supported_version

    require_supported_version(connection.pg_version)
