"""Hypothesis strategies that make whole designs: fields in range and scale, names that point at something."""

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from builds.engineering.buyer_rules import RULES
from builds.engineering.design import (
    AccessPoint,
    AlternatorPoint,
    AlternatorSpec,
    BatterySpec,
    Buyer,
    BuyerRule,
    Circuit,
    Conventions,
    ConverterSpec,
    Design,
    DropRule,
    DutyProfile,
    DutySegment,
    InputSetting,
    Load,
    LoadUse,
    NoMountZone,
    OperatingCondition,
    Operation,
    PanelSpec,
    PartsBillLine,
    Platform,
    PowerNode,
    Route,
    Run,
    SeatPlace,
    ShedStep,
    SourceSpec,
    SourceUse,
    Vehicle,
    Zone,
)
from builds.engineering.document.limits import limits_of
from builds.engineering.document.scales import SCALES, text_length
from builds.engineering.document.shape import FieldShape, Kind, shape_of
from builds.engineering.vocabulary import NodeKind

__all__ = ["designs"]

_SCHEDULES = (
    "",
    "# none yet\n",
    "input a: toggle\nchannel x: lamp\nrule r (priority 1): x steady when\n  a; if lost, applies\n",
)
_LETTERS = st.characters(exclude_categories=("Cc", "Cf", "Cs", "Zl", "Zp"), exclude_characters="\x7f")
_KEYS = st.from_regex(r"[A-Za-z0-9]([A-Za-z0-9 ._/+-]{0,38}[A-Za-z0-9._/+-])?", fullmatch=True)


def _number(owner: str, name: str) -> st.SearchStrategy[float]:
    """Draw a number the column keeps: a whole count of its last decimal, within the range."""
    limits, step = limits_of(owner, name), Decimal(1).scaleb(-SCALES[name].decimals)
    least = int(Decimal(repr(limits.least)) / step) + (1 if limits.above_least else 0)
    most = int(Decimal(repr(limits.most)) / step)
    return st.integers(least, most).map(lambda count: float(count * step))


def _scalar(shape: FieldShape) -> st.SearchStrategy[Any]:
    match shape.kind:
        case Kind.NUMBER:
            return _number(shape.owner, shape.name)
        case Kind.COUNT:
            limits = limits_of(shape.owner, shape.name)
            return st.integers(int(limits.least), int(limits.most))
        case Kind.FLAG:
            return st.booleans()
        case Kind.CHOICE:
            return st.sampled_from(list(shape.inner))
        case Kind.TEXT:
            return st.text(_LETTERS, max_size=min(12, text_length(shape.owner, shape.name)))
        case _:
            raise AssertionError(shape)


def _part(part: type, **given: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Draw a part; ``given`` are fields that name other parts, have a form of their own, or are parts themselves."""
    drawn = dict(given)
    for shape in shape_of(part):
        if shape.name not in given:
            scalar = _scalar(shape)
            drawn[shape.name] = st.none() | scalar if shape.default is None and not shape.required else scalar
    return st.builds(part, **drawn)


def _list(items: st.SearchStrategy[Any], **bounds: Any) -> st.SearchStrategy[tuple[Any, ...]]:
    return st.lists(items, max_size=bounds.pop("max_size", 4), **bounds).map(tuple)


def _keyed(items: st.SearchStrategy[Any], field: str = "key") -> st.SearchStrategy[tuple[Any, ...]]:
    return _list(items, unique_by=lambda item: getattr(item, field))


@st.composite
def _rules(draw: st.DrawFn) -> BuyerRule:
    rule = RULES[draw(st.sampled_from(sorted(RULES)))]
    source = draw(st.text(_LETTERS, max_size=12))
    if rule.choices:
        return BuyerRule(key=rule.key, value=draw(st.sampled_from(rule.choices)), source=source)
    if isinstance(rule.default, str):
        return BuyerRule(key=rule.key, value=draw(st.text(_LETTERS, max_size=12)), source=source)
    assert rule.least is not None and rule.most is not None
    value = draw(st.integers(int(rule.least * 10_000), int(rule.most * 10_000))) / 10_000
    return BuyerRule(key=rule.key, value=value, source=source)


@st.composite
def _platforms(draw: st.DrawFn) -> Platform:
    zones = draw(_list(_part(Zone, key=_KEYS), min_size=1, unique_by=lambda zone: zone.key))
    zone = st.sampled_from([item.key for item in zones])
    filled = st.text("abc ", min_size=1, max_size=12).map(str.strip).filter(bool)
    return draw(
        _part(
            Platform,
            name=filled,
            version=filled,
            zones=st.just(zones),
            routes=_list(_part(Route, from_zone=zone, to_zone=zone)),
            no_mount_zones=_list(_part(NoMountZone, zone=zone)),
            access_points=_keyed(_part(AccessPoint, key=_KEYS, zone=zone)),
            seat_places=_list(_part(SeatPlace)),
        )
    )


@st.composite
def _nodes(draw: st.DrawFn, platform: Platform) -> tuple[PowerNode, ...]:
    keys = draw(st.lists(_KEYS, min_size=2, max_size=5, unique=True))
    return tuple(draw(_node(key, platform, st.sampled_from(keys))) for key in keys)


@st.composite
def _node(draw: st.DrawFn, key: str, platform: Platform, node: st.SearchStrategy[str]) -> PowerNode:
    points = [point.key for point in platform.access_points]
    kind = draw(st.sampled_from([kind for kind in NodeKind if points or kind is not NodeKind.ACCESS_POINT]))
    zone = _named(platform.zones)
    battery = draw(_part(BatterySpec)) if kind is NodeKind.BATTERY else None
    alternator = draw(_alternator()) if kind is NodeKind.ALTERNATOR else None
    source = draw(_set_source(SourceSpec)) if kind in (NodeKind.DCDC, NodeKind.SHORE, NodeKind.SOLAR) else None
    converter = draw(_part(ConverterSpec, return_node=node)) if kind is NodeKind.CONVERTER else None
    return draw(
        _part(
            PowerNode,
            key=st.just(key),
            kind=st.just(kind),
            zone=zone,
            chassis=st.just("") | node,
            battery=st.just(battery),
            alternator=st.just(alternator),
            panel=st.none() | _part(PanelSpec),
            source=st.just(source),
            converter=st.just(converter),
            access_point=st.sampled_from(points) if kind is NodeKind.ACCESS_POINT else st.just(""),
        )
    )


def _volts(owner: str, low: str = "low_v", high: str = "high_v") -> st.SearchStrategy[list[float]]:
    return st.tuples(_number(owner, low), _number(owner, high)).map(sorted)


def _set_source(part: type, **given: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Draw a part with a least and a most voltage, in that order."""
    return _volts(part.__name__).flatmap(
        lambda pair: _part(part, low_v=st.just(pair[0]), high_v=st.just(pair[1]), **given)
    )


def _alternator() -> st.SearchStrategy[AlternatorSpec]:
    return _set_source(AlternatorSpec, points=_list(_part(AlternatorPoint))) | _part(
        AlternatorSpec, points=st.just(()), low_v=st.none(), high_v=st.none()
    )


def _condition(
    load: st.SearchStrategy[str] | None, nodes: tuple[PowerNode, ...]
) -> st.SearchStrategy[OperatingCondition]:
    uses: st.SearchStrategy[tuple[Any, ...]] = st.just(())
    if load is not None:
        uses = _list(_part(LoadUse, load=load), unique_by=lambda use: use.load)
    switched = [node.key for node in nodes if node.kind in (NodeKind.ISOLATOR, NodeKind.DISCONNECT)]
    giving = [node.key for node in nodes if node.battery or node.alternator or node.source]
    sources: st.SearchStrategy[tuple[Any, ...]] = st.just(())
    if giving:
        named = st.sampled_from(giving)
        sources = _list(_set_source(SourceUse, node=named), unique_by=lambda use: use.node)
    return _volts("OperatingCondition", "source_low_v", "source_high_v").flatmap(
        lambda pair: _part(
            OperatingCondition,
            key=_KEYS,
            source_low_v=st.just(pair[0]),
            source_high_v=st.just(pair[1]),
            uses=uses,
            open_nodes=st.just(tuple(switched[:1])),
            closed_nodes=st.just(tuple(switched[1:])),
            sources=sources,
            input_settings=_list(
                _part(InputSetting, input=_KEYS, value=_KEYS), unique_by=lambda setting: setting.input
            ),
        )
    )


def _load(
    circuit: st.SearchStrategy[str], zone: st.SearchStrategy[str], steps: tuple[ShedStep, ...]
) -> st.SearchStrategy[Load]:
    step = st.sampled_from(["", *(item.key for item in steps)])
    least_most = st.tuples(_number("Load", "max_v"), _number("Load", "max_v")).map(sorted)
    return least_most.flatmap(
        lambda pair: _part(
            Load,
            key=_KEYS,
            circuit=circuit,
            zone=zone,
            shed_step=step,
            min_v=st.just(pair[0]),
            max_v=st.none() | st.just(pair[1]),
        )
    )


def _shed_step(nodes: tuple[PowerNode, ...]) -> st.SearchStrategy[ShedStep]:
    batteries = [node.key for node in nodes if node.kind is NodeKind.BATTERY]
    return _volts("ShedStep", "off_below_v", "on_above_v").flatmap(
        lambda pair: _part(
            ShedStep,
            key=_KEYS,
            off_below_v=st.just(pair[0]),
            on_above_v=st.just(pair[1]),
            battery=st.sampled_from(["", *batteries]),
        )
    )


def _segments(
    profiles: tuple[DutyProfile, ...], conditions: tuple[OperatingCondition, ...]
) -> st.SearchStrategy[tuple[DutySegment, ...]]:
    if not profiles or not conditions:
        return st.just(())
    stops = st.tuples(st.integers(0, 3), st.sampled_from([1.0, 15.0, 30.25])).flatmap(
        lambda pair: _part(
            DutySegment,
            key=_KEYS,
            profile=_named(profiles),
            condition=_named(conditions),
            duration_min=st.integers(200, 9_000_000).map(lambda hundredths: hundredths / 100),
            engine_stops=st.just(pair[0]),
            stop_s=st.just(pair[1]),
        )
    )
    return _keyed(stops)


def _named(items: tuple[Any, ...], field: str = "key") -> st.SearchStrategy[str]:
    return st.sampled_from([getattr(item, field) for item in items])


@st.composite
def designs(draw: st.DrawFn) -> Design:
    """Draw a whole design that a document can hold; nothing says that it is a good one."""
    platform = draw(_platforms())
    zone = _named(platform.zones)
    nodes = draw(_nodes(platform))
    node = _named(nodes)
    ends = st.lists(node, min_size=2, max_size=2, unique=True)
    runs = ends.flatmap(
        lambda pair: _part(Run, key=_KEYS, from_node=st.just(pair[0]), to_node=st.just(pair[1]), zones=_list(zone))
    )
    circuit = _part(Circuit, number=_KEYS, panel=node, return_node=node, zones=_list(zone))
    circuits = draw(_keyed(circuit, "number"))
    steps = draw(_keyed(_shed_step(nodes)))
    loads = draw(_keyed(_load(_named(circuits, "number"), zone, steps))) if circuits else ()
    conditions = draw(_keyed(_condition(_named(loads) if loads else None, nodes)))
    profiles = draw(_keyed(_part(DutyProfile, key=_KEYS)))
    operations = draw(_keyed(_part(Operation, key=_KEYS, after=st.just(()))))
    filled = st.text("abc ", min_size=1, max_size=12).map(str.strip).filter(bool)
    buyer = _part(
        Buyer,
        customer=filled,
        profile=filled,
        rules=_keyed(_rules()),
        drop_rules=_keyed(_part(DropRule, key=_KEYS, conditions=_list(_KEYS))),
    )
    return draw(
        _part(
            Design,
            number=st.from_regex(r"[A-Za-z0-9][A-Za-z0-9-]{0,11}", fullmatch=True),
            title=filled,
            purchase_order=st.text("abc ", max_size=12).map(str.strip),
            conventions=_part(Conventions),
            buyer=buyer,
            vehicle=_part(Vehicle),
            platform=st.just(platform),
            nodes=st.just(nodes),
            runs=_keyed(runs),
            circuits=st.just(circuits),
            loads=st.just(loads),
            conditions=st.just(conditions),
            shed_steps=st.just(steps),
            duty_profiles=st.just(profiles),
            duty_segments=_segments(profiles, conditions),
            operations=st.just(operations),
            parts=_keyed(
                _part(
                    PartsBillLine,
                    key=_KEYS,
                    part_number=filled,
                    zone=st.just("") | zone,
                    installed_by=st.just("") | _named(operations) if operations else st.just(""),
                )
            ),
            function_schedule=st.sampled_from(_SCHEDULES),
        )
    )
