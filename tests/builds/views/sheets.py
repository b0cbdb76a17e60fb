"""A build's sheet as a browser holds it: the marks of its pieces, a row opened and sent back."""

import html
import re
from typing import Any

from django.test import Client

__all__ = ["HTMX", "keep", "marks", "opened"]

HTMX = {"HX-Request": "true"}


def marks(page: str) -> str:
    """Return what the sheet's script sends: each piece's id with its mark."""
    return " ".join(f"{piece}:{mark}" for piece, mark in re.findall(r'id="([^"]+)"[^>]*? data-seen="([^"]+)"', page))


def opened(client: Client, number: str, subject: str) -> dict[str, str]:
    """Return the values that an opened row would send back untouched."""
    page = client.get(f"/builds/{number}/", {"edit": subject}, headers=HTMX).content.decode()
    sent = {
        name: html.unescape(value) for name, value in re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', page)
    }
    return sent | {name.removeprefix("was-"): value for name, value in sent.items() if name.startswith("was-")}


def keep(client: Client, number: str, subject: str, **changes: Any) -> Any:
    """Open a row, change fields ("load_current_a" is the load's beside its circuit) and keep it."""
    sent = opened(client, number, subject)
    sent |= {name.replace("load_current_a", "load-current_a"): value for name, value in changes.items()}
    family, _, key = subject.partition(":")
    return client.post(f"/builds/{number}/rows/{family}/{key}/", sent, headers=HTMX)
