"""
All that the renderer may read: the project's own style sheets and fonts, and the photos named in the frozen input.

Addresses are made up (``https://packet.invalid/static/…``, RFC 6761), so that a relative address in a style sheet
resolves; nothing is ever asked of a network or of another file. Whatever else is asked for ends the render.
"""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

__all__ = ["BASE_ADDRESS", "PacketFetcher", "RefusedAddress"]

BASE_ADDRESS = "https://packet.invalid/"
_TYPES = {".css": "text/css", ".woff2": "font/woff2", ".svg": "image/svg+xml"}


class RefusedAddress(FatalURLFetchingError):
    """The renderer asked for something that is not the packet's; the message is for people. Ends the render at once."""


class PacketFetcher(URLFetcher):
    """
    Answers from two places and from nowhere else.

    Parameters
    ----------
    find_static : callable
        Gives the path of a static file of the project by its name, or None.
    read_media : mapping of str to callable
        For every photo of the packet: its SHA-256 and what reads its bytes.
    """

    def __init__(
        self, *, find_static: Callable[[str], Path | None], read_media: Mapping[str, Callable[[], bytes]]
    ) -> None:
        super().__init__(allowed_protocols=("https",), allow_redirects=False, fail_on_errors=True)
        self._find_static = find_static
        self._read_media = read_media
        self.refused: list[RefusedAddress] = []

    def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> Any:
        """
        Return the content at a made-up address. Raises RefusedAddress for every other.

        A refusal is also kept in ``refused``: inside a drawing the renderer swallows whatever is raised.
        """
        try:
            return self._fetched(url)
        except RefusedAddress as error:
            self.refused.append(error)
            raise

    def _fetched(self, url: str) -> URLFetcherResponse:
        parts = urlsplit(url)
        if f"{parts.scheme}://{parts.netloc}/" != BASE_ADDRESS:
            raise RefusedAddress(f"The packet asked for {url[:120]}, which is not its own. Nothing outside is read.")
        place, _, name = unquote(parts.path).lstrip("/").partition("/")
        content, kind = (
            self._static(name) if place == "static" else self._media(name) if place == "media" else (None, "")
        )
        if content is None:
            raise RefusedAddress(f"The packet asked for {parts.path[:120]}, which it does not have.")
        return URLFetcherResponse(url, content, {"Content-Type": kind})

    def _static(self, name: str) -> tuple[bytes | None, str]:
        pieces = name.split("/")
        if ".." in pieces or "" in pieces:
            return None, ""
        path = self._find_static(name)
        kind = _TYPES.get(Path(name).suffix, "")
        return (path.read_bytes(), kind) if path is not None and kind else (None, "")

    def _media(self, sha256: str) -> tuple[bytes | None, str]:
        read = self._read_media.get(sha256)
        if read is None:
            return None, ""
        try:
            return read(), "image/jpeg"
        except OSError as error:
            place = list(self._read_media).index(sha256) + 1
            raise RefusedAddress(f"Photo {place} could not be read.") from error
