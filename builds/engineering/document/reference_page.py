"""
The field tables of ``docs/reference/build-document.md``, made from the published schema.

``python3 manage.py gendocs`` writes them between the page's two marks; a test holds the page to them.
"""

from collections.abc import Iterator
from typing import Any

from builds.engineering.document.schema import document_schema
from builds.engineering.document.text import shown

__all__ = ["field_tables", "page_with_tables"]

_FIRST_MARK = "<!-- field tables: made from the dataclasses -->\n"
_LAST_MARK = "<!-- end of field tables -->\n"


def field_tables() -> str:
    """Return one Markdown table per kind of part, in reading order."""
    return "\n".join(line for name, part in document_schema()["$defs"].items() for line in _table(name, part))


def page_with_tables(page: str) -> str:
    """Return the page with the tables between its marks made anew."""
    before, _, rest = page.partition(_FIRST_MARK)
    _, _, after = rest.partition(_LAST_MARK)
    return f"{before}{_FIRST_MARK}\n{field_tables()}\n{_LAST_MARK}{after}"


def _table(name: str, part: dict[str, Any]) -> Iterator[str]:
    yield f"### {name}"
    yield ""
    yield part["description"]
    yield ""
    yield "| field | kind | values | if left out | meaning |"
    yield "|---|---|---|---|---|"
    for field, rules in part["properties"].items():
        left_out = "a fault" if field in part["required"] else _default(rules)
        yield f"| `{field}` | {_kind(rules)} | {_values(rules)} | {left_out} | {rules['description']} |"
    yield ""


def _kind(rules: dict[str, Any]) -> str:
    if "$ref" in rules:
        return _linked(rules["$ref"])
    if "enum" in rules:
        return "choice"
    if rules["type"] == "array":
        return f"list of {_linked(rules['items']['$ref']) if '$ref' in rules['items'] else 'text'}"
    words = {"number": "number", "integer": "whole number", "boolean": "true or false", "string": "text"}
    return " or ".join(words[kind] for kind in _listed(rules["type"]))


def _values(rules: dict[str, Any]) -> str:
    if "enum" in rules:
        return ", ".join(f"`{choice}`" for choice in rules["enum"])
    words = []
    if "maximum" in rules:
        words.append(_range(rules))
    if "decimals" in rules:
        words.append("1 decimal" if rules["decimals"] == 1 else f"{rules['decimals']} decimals")
    if "maxLength" in rules:
        words.append(f"up to {rules['maxLength']} characters")
    if "pattern" in rules and "maxLength" not in rules:
        words.append(f"`{rules['pattern']}`")
    return ", ".join(words)


def _range(rules: dict[str, Any]) -> str:
    if "exclusiveMinimum" in rules:
        return f"above {rules['exclusiveMinimum']} to {rules['maximum']}"
    return f"{rules['minimum']} to {rules['maximum']}"


def _default(rules: dict[str, Any]) -> str:
    if "default" in rules:
        value = rules["default"]
        return f"`{str(value).lower() if isinstance(value, bool) else shown(value)}`"
    return "an empty list" if rules.get("type") == "array" else "none"


def _linked(reference: str) -> str:
    name = reference.rsplit("/", 1)[-1]
    return f"[{name}](#{name.lower()})"


def _listed(kinds: str | list[str]) -> list[str]:
    return [kinds] if isinstance(kinds, str) else kinds
