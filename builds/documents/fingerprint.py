"""
Which renderer made a packet: everything besides the frozen input that its bytes depend on.

Equal frozen input and an equal fingerprint give equal bytes. Versions of system libraries are asked of the libraries
themselves; templates, style sheets, fonts and this package's own code are named by one hash each.
"""

import ctypes
import ctypes.util
import hashlib
import platform
import zlib
from collections.abc import Iterable
from functools import cache
from importlib.metadata import version
from pathlib import Path

__all__ = ["renderer_fingerprint"]

_PACKAGES = (
    "weasyprint",
    "pydyf",
    "tinycss2",
    "tinyhtml5",
    "cssselect2",
    "fonttools",
    "pyphen",
    "pillow",
    "segno",
    "django",
)
_APP = Path(__file__).resolve().parent.parent
_STATIC = _APP.parent / "config" / "static"
_SOURCES = ("documents", "drawings", "templates/builds/documents", "templatetags")


@cache
def renderer_fingerprint() -> dict[str, str]:
    """Return names and versions or hashes, sorted by name; the same for the life of the process."""
    parts = {package: version(package) for package in _PACKAGES}
    parts |= {
        "python": platform.python_version(),
        "zlib": zlib.ZLIB_RUNTIME_VERSION,
        "pango": _library_version("pango-1.0", "pango_version_string"),
        "harfbuzz": _library_version("harfbuzz", "hb_version_string"),
        "harfbuzz-subset": _library_version("harfbuzz-subset", ""),
        "fonts": _hash_of((_STATIC / "fonts").glob("*.woff2")),
        "style": _hash_of([_STATIC / "css" / "packet.css"]),
        "code": _hash_of(
            path for place in _SOURCES for path in (_APP / place).rglob("*") if path.suffix in (".py", ".html")
        ),
    }
    return dict(sorted(parts.items()))


def _library_version(name: str, function: str) -> str:
    """What a shared library says of its version; "present" where it has no way to say it, "absent" where it is not there."""
    found = ctypes.util.find_library(name)
    if found is None:
        return "absent"
    if not function:
        return "present"
    ask = getattr(ctypes.CDLL(found), function)
    ask.restype = ctypes.c_char_p
    return str(ask().decode())


def _hash_of(paths: Iterable[Path]) -> str:
    digest = hashlib.sha256()
    for path in sorted(paths):
        digest.update(path.name.encode() + b"\0" + hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()[:16]
