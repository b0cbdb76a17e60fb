"""A Celery worker in a process of its own, on the database of the test that runs."""

import os
import signal
import subprocess
import sys
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

from django.conf import settings as django_settings
from django.db import connection

__all__ = ["Worker"]

CHECKOUT = Path(__file__).resolve().parents[1]


class Worker:
    """A Celery worker as the shop runs it, in a process group of its own."""

    def __init__(self, folder: Path, broker_url: str, *, lease_s: int) -> None:
        database = urlsplit(os.environ["DATABASE_URL"])
        address = urlunsplit(database._replace(path=f"/{connection.settings_dict['NAME']}"))
        environment = os.environ | {
            "DATABASE_URL": address, "BROKER_URL": broker_url, "PACKET_LEASE_SECONDS": str(lease_s),
            "MEDIA_ROOT": str(django_settings.MEDIA_ROOT), "DJANGO_SETTINGS_MODULE": "config.settings",
        }  # fmt: skip
        self.log = (folder / "worker.log").open("ab")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "celery", "--app", "config.celery", "worker", "--concurrency", "1",
             "--without-gossip", "--without-mingle", "--loglevel", "INFO"],
            cwd=CHECKOUT, env=environment, stdout=self.log, stderr=self.log, start_new_session=True,
        )  # fmt: skip

    def kill(self) -> None:
        """SIGKILL for the worker and its pool, as a power cut would."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
        self.log.close()
