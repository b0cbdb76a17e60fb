"""The checklist's pages as a technician asks for them."""

from typing import Any
from uuid import uuid4

from django.test import Client

from builds.models import Build

__all__ = ["page", "sign"]


def page(client: Client, build: Build, step: Any = None) -> str:
    """Return the list of a build, or the page of one of its steps."""
    path = f"/builds/{build.number}/checklist/" + (f"{step.pk}/" if step else "")
    response = client.get(path)
    assert response.status_code == 200
    return response.content.decode()


def sign(client: Client, hold: Any, **fields: Any) -> Any:
    """Sign a hold point."""
    data = {"event_id": str(uuid4()), "passed": "yes"} | fields
    return client.post(f"/builds/{hold.build.number}/checklist/{hold.pk}/sign/", data)
