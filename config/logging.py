"""
Structured logs: one JSON object a line, on the process's own output.

Whoever starts the process decides where its output goes: the supervisor sends each child's to a
file of its own in the data folder's `logs`, a container's goes to the container. Whatever is
logged, by us or by a library, passes `scrub_link_tokens` last: a customer's link opens without a
password, so its token must not stand in a log.
"""

from __future__ import annotations

import logging.config
import re
from typing import Any

import structlog

LINK_TOKEN = re.compile(r"/(?P<kind>l|v)/[A-Za-z0-9_\-]{8,}")
EVENT_TOKEN = re.compile(r"(?P<name>[?&]token=)[^&\s\"]+")


def scrub_link_tokens(text: str) -> str:
    """Return `text` with the tokens of customer, vehicle and event links taken out."""
    return EVENT_TOKEN.sub(r"\g<name>[token]", LINK_TOKEN.sub(r"/\g<kind>/[token]", text))


class ScrubbingFormatter(structlog.stdlib.ProcessorFormatter):
    """Renders a record and takes link tokens out of the finished line, tracebacks included."""

    def format(self, record: logging.LogRecord) -> str:
        return scrub_link_tokens(super().format(record))


SHARED_PROCESSORS: list[Any] = [
    structlog.contextvars.merge_contextvars,
    structlog.stdlib.add_logger_name,
    structlog.stdlib.add_log_level,
    structlog.processors.TimeStamper(fmt="iso", utc=True),
]


def logging_settings(*, level: str, form: str) -> dict[str, Any]:
    """Return the logging configuration: `form` is `json` for machines or `lines` for a terminal."""
    renderer: Any = structlog.dev.ConsoleRenderer(colors=False)
    tracebacks: list[Any] = []
    if form == "json":
        renderer = structlog.processors.JSONRenderer(sort_keys=True)
        tracebacks = [structlog.processors.format_exc_info]
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "structured": {
                "()": ScrubbingFormatter,
                "foreign_pre_chain": [
                    *SHARED_PROCESSORS,
                    structlog.stdlib.ExtraAdder(allow=("status_code", "task_name", "task_id")),
                ],
                "processors": [
                    structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                    *tracebacks,
                    renderer,
                ],
            }
        },
        "handlers": {"output": {"class": "logging.StreamHandler", "formatter": "structured"}},
        "root": {"handlers": ["output"], "level": level},
        "loggers": {
            "django": {"level": level},
            "celery": {"level": level},
            # One line for each page a lost customer asks for is noise; a fault of ours is not.
            "django.request": {"level": "ERROR"},
            "axes": {"level": "WARNING"},  # four lines for each sign-in otherwise
            "fontTools": {"level": "WARNING"},
            "weasyprint": {"level": "ERROR"},
        },
    }


def configure(settings: dict[str, Any]) -> None:
    """Set up the standard library's logging and structlog on top of it. Called by Django."""
    logging.config.dictConfig(settings)
    logging.captureWarnings(capture=True)
    structlog.configure(
        processors=[
            structlog.stdlib.filter_by_level,
            *SHARED_PROCESSORS,
            structlog.stdlib.PositionalArgumentsFormatter(),
            structlog.stdlib.ProcessorFormatter.wrap_for_formatter,
        ],
        logger_factory=structlog.stdlib.LoggerFactory(),
        wrapper_class=structlog.stdlib.BoundLogger,
        cache_logger_on_first_use=True,
    )
