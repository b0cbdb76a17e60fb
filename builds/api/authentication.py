"""Who asks: the session of the pages."""

from rest_framework.authentication import SessionAuthentication
from rest_framework.request import Request

__all__ = ["PageSession"]


class PageSession(SessionAuthentication):
    """The session cookie and, for changes, the CSRF token; somebody who is signed out is told so by status 401."""

    def authenticate_header(self, request: Request) -> str:
        """Return how to sign in; without such a word the framework answers 403, which means something else here."""
        return "Session"
