"""Tokens of links stay out of the logs."""

import json
import logging

import pytest

from config.logging import configure, logging_settings, scrub_link_tokens

TOKEN = "pB3xQ_8-yT0kZr7uVw1aLmN5cDfGhJ2s"


@pytest.mark.parametrize(
    ("line", "scrubbed"),
    [
        (f"GET /l/{TOKEN}/packet.pdf 200", "GET /l/[token]/packet.pdf 200"),
        (f"https://shop.example/v/{TOKEN}/", "https://shop.example/v/[token]/"),
        (f"/events?build=2614&token={TOKEN} HTTP/1.1", "/events?build=2614&token=[token] HTTP/1.1"),
        ("/builds/2614/levels/", "/builds/2614/levels/"),
    ],
)
def test_link_tokens_are_scrubbed(line: str, scrubbed: str) -> None:
    assert scrub_link_tokens(line) == scrubbed


def test_log_line_is_json_and_its_traceback_is_scrubbed_too(capsys: pytest.CaptureFixture[str]) -> None:
    settings = logging_settings(level="INFO", form="json")
    formatter = settings["formatters"]["structured"]
    made = formatter["()"](foreign_pre_chain=formatter["foreign_pre_chain"], processors=formatter["processors"])

    try:
        raise LookupError(f"no page at /l/{TOKEN}/")
    except LookupError as error:
        record = logging.LogRecord(
            "django.request",
            logging.ERROR,
            __file__,
            1,
            "fault at %s",
            (f"/v/{TOKEN}/",),
            (type(error), error, error.__traceback__),
        )
    line = json.loads(made.format(record))

    assert line["event"] == "fault at /v/[token]/"
    assert line["level"] == "error"
    assert "LookupError: no page at /l/[token]/" in line["exception"]
    assert TOKEN not in json.dumps(line)


def test_configuring_twice_keeps_one_handler() -> None:
    settings = logging_settings(level="WARNING", form="lines")
    before = logging.root.handlers[:]
    try:
        configure(settings)
        configure(settings)
        ours = [handler for handler in logging.root.handlers if handler.name == "output"]
        assert len(ours) == 1
    finally:
        logging.root.handlers[:] = before
