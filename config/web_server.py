"""How gunicorn serves the pages: read by it with `--config python:config.web_server`."""

import os

MEMORY = "/dev/shm"  # noqa: S108  (gunicorn makes its file there itself, under a random name)

worker_class = "gthread"
workers = int(os.environ.get("WEB_PROCESSES", "2"))
threads = int(os.environ.get("WEB_THREADS", "4"))
# A process takes no more clients than it can nearly answer, so that the rest go to the other one:
# kept-alive connections would otherwise all end up with whoever was first.
worker_connections = threads * 2
preload_app = True
control_socket_disable = True
graceful_timeout = 8
timeout = 60
# A worker's sign of life is a file: in memory where there is some, because a disk may be slow.
worker_tmp_dir = MEMORY if os.access(MEMORY, os.W_OK) else None
