"""The Celery application: configured by Django's settings, tasks found in each app's `tasks.py`."""

import os
import signal
from typing import Any

from celery import Celery
from celery.signals import setup_logging, worker_process_init

from config.embedded.processes import end_with_parent

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("baywright")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@setup_logging.connect
def keep_our_logging(**_: Any) -> None:
    """Having a receiver is what tells Celery to leave the logging as the settings made it."""


@worker_process_init.connect
def end_with_the_worker(**_: Any) -> None:
    """
    A pool process must not outlive its worker: it could hold a claim nobody renews.

    A render cut off like that is claimed again when its lease runs out.
    """
    end_with_parent(signal.SIGKILL, parent_pid=os.getppid())
