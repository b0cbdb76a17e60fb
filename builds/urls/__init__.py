"""The addresses of the builds app, one module per room of the shop."""

from importlib.util import find_spec

from django.urls import include, path

__all__ = ["urlpatterns"]

_ROOMS = ("design", "floor", "yard", "stores", "packets", "links", "people", "api")

urlpatterns = [
    path("", include(f"builds.urls.{room}")) for room in _ROOMS if find_spec(f"builds.urls.{room}") is not None
]
