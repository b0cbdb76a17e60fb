"""JSON bodies as the build document reads them: numbers exact, no NaN, no key twice."""

import json
from decimal import Decimal
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser

__all__ = ["ExactJSONParser"]

_LARGEST_BYTES = 5_000_000


class ExactJSONParser(BaseParser):
    """Reads JSON with decimals as they are written; what is not plain JSON is told by line and column."""

    media_type = "application/json"

    def parse(self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None) -> dict[str, Any]:
        """Return the body, which is an object. Raises ParseError."""
        content = stream.read(_LARGEST_BYTES + 1)
        if len(content) > _LARGEST_BYTES:
            raise ParseError("The body is larger than 5 MB.")
        try:
            value = json.loads(
                content.decode("utf-8"), parse_float=Decimal, parse_constant=_refuse, object_pairs_hook=_once
            )
            _check_texts(value)
        except UnicodeDecodeError:
            raise ParseError("The body is not UTF-8 text.") from None
        except json.JSONDecodeError as error:
            raise ParseError(f"The body is not JSON: line {error.lineno}, column {error.colno}.") from None
        except (RecursionError, ValueError) as error:
            raise ParseError(f"The body is not plain JSON: {error}") from None
        if not isinstance(value, dict):
            raise ParseError("The body must be an object in braces.")
        return value


def _check_texts(value: Any) -> None:
    """Refuse what an escape can write and no column can keep: a NUL character, and half of a character pair."""
    if isinstance(value, dict):
        for item in (*value, *value.values()):
            _check_texts(item)
    elif isinstance(value, list):
        for item in value:
            _check_texts(item)
    elif isinstance(value, str) and ("\x00" in value or any("\ud800" <= letter <= "\udfff" for letter in value)):
        raise ValueError("a text in it holds a NUL character or half of a character pair.")


def _refuse(word: str) -> None:
    raise ValueError(f"{word} is not a number.")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise ValueError(f"{key!r} stands there twice.")
        found[key] = value
    return found
