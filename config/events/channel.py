"""What a notification from the database and an event to a page look like."""

from __future__ import annotations

import json
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A build's design has this version now."""

    build: str
    design_version: int

    def as_event(self) -> bytes:
        """Return the change as one server-sent event."""
        data = json.dumps({"build": self.build, "design_version": self.design_version})
        return f"event: design\nid: {self.design_version}\ndata: {data}\n\n".encode()


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenRow:
    """Somebody has a row of a build's sheet open, or has left it."""

    build: str
    row: str
    by: str
    is_open: bool

    def as_event(self) -> bytes:
        """Return it as one server-sent event; it has no id, as nobody who comes later needs it."""
        data = json.dumps({"build": self.build, "row": self.row, "by": self.by, "open": self.is_open})
        return f"event: row\ndata: {data}\n\n".encode()


def read_notification(payload: str) -> Change | OpenRow | None:
    """Return the news a notification brings, or None when it is not one of ours."""
    try:
        value = json.loads(payload)
        if "row" in value:
            is_open = value["open"] is True
            return OpenRow(build=str(value["build"]), row=str(value["row"]), by=str(value["by"]), is_open=is_open)
        return Change(build=str(value["build"]), design_version=int(value["design_version"]))
    except (ValueError, TypeError, KeyError):
        return None
