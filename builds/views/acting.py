"""Who asks, once it is known that they may."""

from django.http import HttpRequest

from builds.errors import NotAllowed
from builds.models import Person
from builds.permissions import Action, check_may

__all__ = ["person_who_may"]


def person_who_may(request: HttpRequest, action: Action) -> Person:
    """Return the signed-in person. Raises NotAllowed unless they may do ``action``."""
    check_may(request.user, action)
    if not isinstance(request.user, Person):
        raise NotAllowed(f"This needs someone who may {action}.")
    return request.user
