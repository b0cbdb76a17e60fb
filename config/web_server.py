"""How gunicorn serves the pages: read by it with `--config python:config.web_server`."""

import gc
import os

from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

MEMORY = "/dev/shm"  # noqa: S108  (gunicorn makes its file there itself, under a random name)

worker_class = "gthread"
workers = settings.WEB_PROCESSES
threads = settings.WEB_THREADS
# A process takes no more clients than it can nearly answer, so that the rest go to the other one:
# kept-alive connections would otherwise all end up with whoever was first.
worker_connections = threads * 2
preload_app = True


def post_worker_init(_worker: object) -> None:
    """A worker is ready: what it has loaded is never garbage, and the collector need not walk over it again and again."""
    gc.collect()
    gc.freeze()


control_socket_disable = True
graceful_timeout = 8
timeout = 60
# A worker's sign of life is a file: in memory where there is some, because a disk may be slow.
# Its own lines as JSON too.
logconfig_dict = settings.LOGGING | {
    "loggers": settings.LOGGING["loggers"] | {"gunicorn.error": {"handlers": ["output"], "propagate": False}}
}
worker_tmp_dir = MEMORY if os.access(MEMORY, os.W_OK) else None
