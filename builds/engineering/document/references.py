"""
What must hold between the parts of a document: each address once, nothing named that is not there.

The checks read raw values, so that they find their faults even where others keep the document from becoming a design.
What is *badly designed* (two circuits on one position, a run without a fuse) is no fault but a finding.
"""

from collections.abc import Callable, Iterator
from typing import Any

from builds.engineering.buyer_rules import RULES
from builds.engineering.document.faults import Fault, pointer_of
from builds.engineering.document.text import NotANumber, shown
from builds.engineering.functions.faults import LanguageError
from builds.engineering.functions.language import parse_schedule
from builds.engineering.vocabulary import NodeKind

__all__ = ["reference_faults"]

_Object = dict[str, Any]
_Path = tuple[str | int, ...]

_KEYED: tuple[tuple[_Path, str], ...] = (
    (("platform", "zones"), "key"),
    (("buyer", "rules"), "key"),
    (("buyer", "drop_rules"), "key"),
    (("nodes",), "key"),
    (("runs",), "key"),
    (("circuits",), "number"),
    (("loads",), "key"),
    (("conditions",), "key"),
    (("operations",), "key"),
    (("parts",), "key"),
)

# list of the naming part, its field, list of what it names; an empty name stands for none
_NAMED: tuple[tuple[_Path, str, _Path], ...] = (
    (("platform", "routes"), "from_zone", ("platform", "zones")),
    (("platform", "routes"), "to_zone", ("platform", "zones")),
    (("platform", "no_mount_zones"), "zone", ("platform", "zones")),
    (("nodes",), "zone", ("platform", "zones")),
    (("nodes",), "chassis", ("nodes",)),
    (("runs",), "from_node", ("nodes",)),
    (("runs",), "to_node", ("nodes",)),
    (("runs",), "zones", ("platform", "zones")),
    (("circuits",), "panel", ("nodes",)),
    (("circuits",), "return_node", ("nodes",)),
    (("circuits",), "zones", ("platform", "zones")),
    (("loads",), "circuit", ("circuits",)),
    (("loads",), "zone", ("platform", "zones")),
    (("operations",), "after", ("operations",)),
    (("parts",), "zone", ("platform", "zones")),
)
_MAY_BE_EMPTY = frozenset({("nodes", "chassis"), ("parts", "zone")})
_WORDS = {"zones": "zone", "nodes": "node", "circuits": "circuit", "loads": "load", "operations": "operation"}


def reference_faults(build: Any) -> Iterator[Fault]:
    """Yield the faults between the parts of a raw build."""
    if not isinstance(build, dict):
        return
    for check in _CHECKS:
        yield from check(build)


def _doubled_keys(build: _Object) -> Iterator[Fault]:
    for where, field in _KEYED:
        seen: dict[str, _Path] = {}
        for path, item in _items(build, where):
            key = item.get(field)
            if isinstance(key, str) and key in seen:
                first = pointer_of(("build", *seen[key]))
                yield _fault((*path, field), f"{shown(key)} is used twice; it first stands at {first}")
            elif isinstance(key, str):
                seen[key] = path


def _unknown_names(build: _Object) -> Iterator[Fault]:
    for where, field, target in _NAMED:
        known = _keys(build, target)
        for path, name in _names(build, where, field):
            if name not in known and not (name == "" and (where[-1], field) in _MAY_BE_EMPTY):
                yield _fault(path, f"there is no {_WORDS[str(target[-1])]} {shown(name)} in this document")


def _uses(build: _Object) -> Iterator[Fault]:
    known = _keys(build, ("loads",))
    for place, condition in _items(build, ("conditions",)):
        seen: set[str] = set()
        for path, use in _items(condition, ("uses",)):
            name = use.get("load")
            if not isinstance(name, str):
                continue
            if name not in known:
                yield _fault((*place, *path, "load"), f"there is no load {shown(name)} in this document")
            elif name in seen:
                yield _fault((*place, *path, "load"), f"load {shown(name)} is named twice in this condition")
            seen.add(name)


def _input_settings(build: _Object) -> Iterator[Fault]:
    for place, condition in _items(build, ("conditions",)):
        seen: set[str] = set()
        for path, setting in _items(condition, ("input_settings",)):
            name = setting.get("input")
            if isinstance(name, str):
                if name in seen:
                    yield _fault((*place, *path, "input"), f"input {shown(name)} is set twice in this condition")
                seen.add(name)


def _function_schedule(build: _Object) -> Iterator[Fault]:
    text = build.get("function_schedule")
    if isinstance(text, str) and text:
        try:
            parse_schedule(text)
        except LanguageError as error:
            for one in error.faults:
                where = f"line {one.place.line}, column {one.place.column}"
                yield _fault(("function_schedule",), f"{where}: {one.message}")


def _node_figures(build: _Object) -> Iterator[Fault]:
    for path, node in _items(build, ("nodes",)):
        kind = node.get("kind")
        if kind in (NodeKind.BATTERY, NodeKind.ALTERNATOR) and node.get(str(kind)) is None:
            yield _fault((*path, str(kind)), f"is missing: a node of kind {kind} carries its figures here")


def _run_ends(build: _Object) -> Iterator[Fault]:
    for path, run in _items(build, ("runs",)):
        if isinstance(run.get("to_node"), str) and run.get("from_node") == run["to_node"]:
            yield _fault((*path, "to_node"), "a run joins two different nodes")


def _source_voltages(build: _Object) -> Iterator[Fault]:
    for path, condition in _items(build, ("conditions",)):
        low, high = condition.get("source_low_v"), condition.get("source_high_v")
        if _number(low) and _number(high) and high < low:  # type: ignore[operator]
            yield _fault((*path, "source_high_v"), f"{shown(high)} is below source_low_v, {shown(low)}")


def _buyer_rules(build: _Object) -> Iterator[Fault]:
    for path, rule in _items(build, ("buyer", "rules")):
        key, value = rule.get("key"), rule.get("value")
        if not isinstance(key, str):
            continue
        if key not in RULES:
            yield _fault((*path, "key"), f"the catalogue of buyer rules has no {shown(key)}")
        elif value is not None and not isinstance(value, NotANumber):
            yield from _rule_value((*path, "value"), key, value)


def _rule_value(path: _Path, key: str, value: object) -> Iterator[Fault]:
    rule = RULES[key]
    if isinstance(rule.default, str):
        if not isinstance(value, str):
            yield _fault(path, f"{key} asks for text in quotation marks")
        elif rule.choices and value not in rule.choices:
            yield _fault(path, f"{shown(value)} is not one of " + ", ".join(rule.choices))
    elif not _number(value):
        yield _fault(path, f"{key} asks for a number")
    elif not (rule.least or 0) <= float(value) <= (rule.most or 0):  # type: ignore[arg-type]
        yield _fault(path, f"{shown(value)} must be from {rule.least:g} to {rule.most:g}")


_CHECKS: tuple[Callable[[_Object], Iterator[Fault]], ...] = (
    _doubled_keys,
    _unknown_names,
    _uses,
    _input_settings,
    _function_schedule,
    _node_figures,
    _run_ends,
    _source_voltages,
    _buyer_rules,
)


def _fault(path: _Path, message: str) -> Fault:
    return Fault(pointer=pointer_of(("build", *path)), message=message)


def _items(start: _Object, where: _Path) -> Iterator[tuple[_Path, _Object]]:
    """Yield the objects of the list at a path, each with its own path; anything of another kind is passed over."""
    value: Any = start
    for step in where:
        value = value.get(step) if isinstance(value, dict) else None
    for place, item in enumerate(value if isinstance(value, list) else ()):
        if isinstance(item, dict):
            yield (*where, place), item


def _keys(build: _Object, where: _Path) -> set[str]:
    field = "number" if where[-1] == "circuits" else "key"
    keys = (item.get(field) for _, item in _items(build, where))
    return {key for key in keys if isinstance(key, str)}


def _names(build: _Object, where: _Path, field: str) -> Iterator[tuple[_Path, str]]:
    for path, item in _items(build, where):
        value = item.get(field)
        if isinstance(value, str):
            yield (*path, field), value
        for place, name in enumerate(value if isinstance(value, list) else ()):
            if isinstance(name, str):
                yield (*path, field, place), name


def _number(value: object) -> bool:
    return not isinstance(value, bool | str | NotANumber | list | dict) and value is not None
