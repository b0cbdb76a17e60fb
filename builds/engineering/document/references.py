"""
What must hold between the parts of a document: each address once, nothing named that is not there.

The checks read raw values, so that they find their faults even where others keep the document from becoming a design.
What is *badly designed* (two circuits on one position, a run without a fuse) is no fault but a finding.
"""

from collections.abc import Callable, Iterator
from typing import Any

from builds.engineering.buyer_rules import RULES
from builds.engineering.design import FIGURES_OF
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
    (("platform", "access_points"), "key"),
    (("buyer", "rules"), "key"),
    (("buyer", "drop_rules"), "key"),
    (("nodes",), "key"),
    (("runs",), "key"),
    (("circuits",), "number"),
    (("loads",), "key"),
    (("conditions",), "key"),
    (("shed_steps",), "key"),
    (("duty_profiles",), "key"),
    (("duty_segments",), "key"),
    (("operations",), "key"),
    (("parts",), "key"),
)

# list of the naming part, its field, list of what it names; an empty name stands for none
_NAMED: tuple[tuple[_Path, str, _Path], ...] = (
    (("platform", "routes"), "from_zone", ("platform", "zones")),
    (("platform", "routes"), "to_zone", ("platform", "zones")),
    (("platform", "no_mount_zones"), "zone", ("platform", "zones")),
    (("platform", "access_points"), "zone", ("platform", "zones")),
    (("nodes",), "zone", ("platform", "zones")),
    (("nodes",), "access_point", ("platform", "access_points")),
    (("nodes",), "chassis", ("nodes",)),
    (("runs",), "from_node", ("nodes",)),
    (("runs",), "to_node", ("nodes",)),
    (("runs",), "zones", ("platform", "zones")),
    (("circuits",), "panel", ("nodes",)),
    (("circuits",), "return_node", ("nodes",)),
    (("circuits",), "zones", ("platform", "zones")),
    (("conditions",), "open_nodes", ("nodes",)),
    (("conditions",), "closed_nodes", ("nodes",)),
    (("loads",), "circuit", ("circuits",)),
    (("loads",), "zone", ("platform", "zones")),
    (("loads",), "shed_step", ("shed_steps",)),
    (("shed_steps",), "battery", ("nodes",)),
    (("duty_segments",), "profile", ("duty_profiles",)),
    (("duty_segments",), "condition", ("conditions",)),
    (("operations",), "after", ("operations",)),
    (("parts",), "zone", ("platform", "zones")),
    (("parts",), "installed_by", ("operations",)),
)
_MAY_BE_EMPTY = frozenset(
    {
        ("nodes", "access_point"),
        ("nodes", "chassis"),
        ("parts", "zone"),
        ("parts", "installed_by"),
        ("loads", "shed_step"),
        ("shed_steps", "battery"),
    }
)
_SWITCHED = (NodeKind.ISOLATOR, NodeKind.DISCONNECT, NodeKind.LOW_VOLTAGE_DISCONNECT)
_GIVING = (NodeKind.BATTERY, NodeKind.ALTERNATOR, NodeKind.DCDC, NodeKind.SHORE, NodeKind.SOLAR)
_WORDS = {
    "access_points": "access point",
    "zones": "zone",
    "nodes": "node",
    "circuits": "circuit",
    "loads": "load",
    "operations": "operation",
    "conditions": "condition",
    "shed_steps": "shedding step",
    "duty_profiles": "duty profile",
}


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
        field = FIGURES_OF.get(kind) if isinstance(kind, str) else None  # type: ignore[call-overload]  # its keys are words too
        if field is not None and node.get(field) in (None, ""):
            yield _fault((*path, field), f"is missing: a node of kind {kind} carries its figures here")


def _converter_returns(build: _Object) -> Iterator[Fault]:
    known = _keys(build, ("nodes",))
    for path, node in _items(build, ("nodes",)):
        converter = node.get("converter")
        name = converter.get("return_node") if isinstance(converter, dict) else None
        if isinstance(name, str) and name not in known:
            yield _fault((*path, "converter", "return_node"), f"there is no node {shown(name)} in this document")


def _switched_nodes(build: _Object) -> Iterator[Fault]:
    """What a condition opens or closes can be opened and closed, and is not both."""
    kind_of = _kinds(build)
    for place, condition in _items(build, ("conditions",)):
        opened = condition.get("open_nodes")
        for field in ("open_nodes", "closed_nodes"):
            for at, name in enumerate(_listed(condition.get(field))):
                if kind_of.get(name, NodeKind.ISOLATOR) not in _SWITCHED:
                    words = "is no isolator, disconnect or low-voltage disconnect"
                    yield _fault((*place, field, at), f"{shown(name)} {words}")
                elif field == "closed_nodes" and name in _listed(opened):
                    yield _fault((*place, field, at), f"{shown(name)} is open in this condition too")


def _source_uses(build: _Object) -> Iterator[Fault]:
    known, kind_of = _keys(build, ("nodes",)), _kinds(build)
    for place, condition in _items(build, ("conditions",)):
        seen: set[str] = set()
        for path, use in _items(condition, ("sources",)):
            name = use.get("node")
            if not isinstance(name, str):
                continue
            if name not in known:
                yield _fault((*place, *path, "node"), f"there is no node {shown(name)} in this document")
            elif kind_of.get(name, NodeKind.BATTERY) not in _GIVING:
                yield _fault((*place, *path, "node"), f"{shown(name)} is no source")
            elif name in seen:
                yield _fault((*place, *path, "node"), f"source {shown(name)} is named twice in this condition")
            seen.add(name)


def _set_voltages(build: _Object) -> Iterator[Fault]:
    """Every pair of a least and a most voltage runs from low to high."""
    for path, node in _items(build, ("nodes",)):
        for spec in ("alternator", "source"):
            if isinstance(figures := node.get(spec), dict):
                yield from _low_to_high((*path, spec), figures)
    for place, condition in _items(build, ("conditions",)):
        for path, use in _items(condition, ("sources",)):
            yield from _low_to_high((*place, *path), use)
    for path, load in _items(build, ("loads",)):
        least, most = load.get("min_v"), load.get("max_v")
        if _number(least) and _number(most) and most < least:  # type: ignore[operator]
            yield _fault((*path, "max_v"), f"{shown(most)} is below min_v, {shown(least)}")


def _low_to_high(path: _Path, figures: _Object) -> Iterator[Fault]:
    low, high = figures.get("low_v"), figures.get("high_v")
    if _number(low) and _number(high) and high < low:  # type: ignore[operator]
        yield _fault((*path, "high_v"), f"{shown(high)} is below low_v, {shown(low)}")


def _run_ends(build: _Object) -> Iterator[Fault]:
    for path, run in _items(build, ("runs",)):
        if isinstance(run.get("to_node"), str) and run.get("from_node") == run["to_node"]:
            yield _fault((*path, "to_node"), "a run joins two different nodes")


def _source_voltages(build: _Object) -> Iterator[Fault]:
    for path, condition in _items(build, ("conditions",)):
        low, high = condition.get("source_low_v"), condition.get("source_high_v")
        if _number(low) and _number(high) and high < low:  # type: ignore[operator]
            yield _fault((*path, "source_high_v"), f"{shown(high)} is below source_low_v, {shown(low)}")


def _shedding(build: _Object) -> Iterator[Fault]:
    kind_of = _kinds(build)
    for path, step in _items(build, ("shed_steps",)):
        low, high, battery = step.get("off_below_v"), step.get("on_above_v"), step.get("battery")
        if _number(low) and _number(high) and high < low:  # type: ignore[operator]
            yield _fault((*path, "on_above_v"), f"{shown(high)} is below off_below_v, {shown(low)}")
        if isinstance(battery, str) and kind_of.get(battery, NodeKind.BATTERY) != NodeKind.BATTERY:
            yield _fault((*path, "battery"), f"{shown(battery)} is no battery")


def _engine_stops(build: _Object) -> Iterator[Fault]:
    for path, segment in _items(build, ("duty_segments",)):
        figures: list[Any] = [segment.get("engine_stops", 0), segment.get("stop_s", 60), segment.get("duration_min")]
        if all(map(_number, figures)) and figures[0] * figures[1] >= 60 * figures[2] > 0:
            yield _fault((*path, "engine_stops"), "the stops take longer than the segment")


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
    _converter_returns,
    _run_ends,
    _source_voltages,
    _switched_nodes,
    _source_uses,
    _set_voltages,
    _shedding,
    _engine_stops,
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


def _kinds(build: _Object) -> dict[str, str]:
    """Kinds of the nodes that say one; where a single row is checked the others do not."""
    pairs = ((node.get("key"), node.get("kind")) for _, node in _items(build, ("nodes",)))
    return {key: kind for key, kind in pairs if isinstance(key, str) and isinstance(kind, str)}


def _listed(names: Any) -> list[str]:
    return [name for name in names if isinstance(name, str)] if isinstance(names, list) else []


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
