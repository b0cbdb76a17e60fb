"""Finding what an address names."""

from builds.errors import NotHere
from builds.models import Build

__all__ = ["find_build"]


def find_build(number: str) -> Build:
    """Return the build of this number. Raises NotHere."""
    build = Build.objects.select_related("customer", "profile", "vehicle", "platform").filter(number=number).first()
    if build is None:
        raise NotHere(f"There is no build {number}.")
    return build
