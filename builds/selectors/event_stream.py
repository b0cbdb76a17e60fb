"""Where an open page hears that its build has changed."""

from __future__ import annotations

from urllib.parse import urlencode

from django.conf import settings
from django.core import signing

CHANNEL = "baywright_build"
TOKEN_SALT = "builds.event_stream"  # noqa: S105  (says what a signature is for; the key is the secret)
TOKEN_SECONDS = 14 * 60 * 60  # as long as a sign-in lasts


def event_stream_url(*, build_number: str, origin: str) -> str:
    """
    Return the address a page of the build listens at, or an empty text where no stream is served.

    `origin` is `request.events_origin`. The token in the address opens this build's stream and nothing
    else, and runs out with the sign-in.
    """
    if not origin:
        return ""
    query = urlencode({"build": build_number, "token": event_token(build_number)})
    return f"{origin}/events?{query}"


def event_token(build_number: str) -> str:
    """Return a token that opens the stream of one build."""
    return signing.TimestampSigner(salt=TOKEN_SALT).sign(build_number).removeprefix(f"{build_number}:")


def token_opens(token: str, *, build_number: str) -> bool:
    """Return whether `token` was made for this build and has not run out."""
    signer = signing.TimestampSigner(salt=TOKEN_SALT)
    try:
        signer.unsign(f"{build_number}:{token}", max_age=TOKEN_SECONDS)
    except signing.BadSignature:
        return False
    return True


def stream_is_served() -> bool:
    """Return whether pages can listen at all."""
    return bool(settings.EVENTS_ORIGIN or settings.EVENTS_PORT)
