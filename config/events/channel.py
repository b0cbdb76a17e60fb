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


def read_notification(payload: str) -> Change | None:
    """Return the change a notification speaks of, or None when it is not one of ours."""
    try:
        value = json.loads(payload)
        return Change(build=str(value["build"]), design_version=int(value["design_version"]))
    except (ValueError, TypeError, KeyError):
        return None
