"""A design with its parts found by key and its buyer's rules read once, for everything that assesses it."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from builds.engineering.assessing.battery_ends import battery_ends
from builds.engineering.assessing.bundles import Bundle, bundle_key, bundles_of
from builds.engineering.assessing.gauges import gauge_area_mm2
from builds.engineering.assessing.isolators import diodes_of
from builds.engineering.buyer_rules import DEFAULT_DROP_RULES, RULES, rule_number, rule_text
from builds.engineering.design import (
    FIGURES_OF,
    Buyer,
    Circuit,
    Design,
    DropRule,
    Load,
    NoMountZone,
    OperatingCondition,
    PowerNode,
    Run,
    Zone,
)
from builds.engineering.makers_wires import makers_wires
from builds.engineering.vocabulary import HotWhen, NodeKind, Polarity, SourceState

__all__ = ["IndexedDesign", "drop_rules_of", "index_design", "resized_index"]

Part = TypeVar("Part")

_DEFAULT_BASE_V = 12.0
_FIGURES = ("battery", "alternator", "source", "converter")

_NONE_DEAD: Mapping[SourceState, frozenset[str]] = dict.fromkeys(SourceState, frozenset())
_DEAD_IN = {
    HotWhen.ALWAYS: (),
    HotWhen.SWITCHED: (),
    HotWhen.ACCESSORY: (SourceState.KEY_OFF,),
    HotWhen.IGNITION: (SourceState.KEY_OFF,),
    HotWhen.ENGINE: (SourceState.KEY_OFF, SourceState.ENGINE_OFF),
}

GENERAL_CLASS = "*"  # the drop rule for every load without a rule of its own


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexedDesign:
    """The design and what is looked up in it again and again."""

    design: Design
    nodes: Mapping[str, PowerNode]
    able_batteries: tuple[PowerNode, ...]
    able_alternators: tuple[PowerNode, ...]
    runs: Mapping[str, Run]
    makers_wires: tuple[Run, ...]  # to access points that are named and not drawn; they stand behind the drawn runs
    diodes_v: Mapping[str, float]  # what each diode isolator loses, by its node
    dead_points: Mapping[SourceState, frozenset[str]]  # access points (nodes) that the vehicle keeps dead
    battery_ends: Mapping[str, str]  # by key of the run
    zones: Mapping[str, Zone]
    no_mount: Mapping[str, NoMountZone]
    loads: Mapping[str, Load]
    load_row: Mapping[str, int]
    loads_of: Mapping[str, tuple[Load, ...]]
    circuits_of: Mapping[str, tuple[Circuit, ...]]
    conditions: Mapping[str, OperatingCondition]
    used_loads: frozenset[str]
    drop_rules: Mapping[str, DropRule]
    rule_of_load: Mapping[str, DropRule]  # the class's, its base that of the load's bus where the buyer states none
    rules_in_use: Mapping[str, DropRule]  # by key: the general one and those that this design's loads come under
    under_rule: Mapping[str, NDArray[np.float64]]  # by key of the rule, 1 for each load that comes under it
    rules_beside: tuple[DropRule, ...]  # of a part of the way or in some conditions only; judged beside the others
    numbers: Mapping[str, float]
    texts: Mapping[str, str]
    bundles: Mapping[str, Bundle]  # by the key of the name, those that circuits and runs name
    least_area_mm2: float  # of the smallest conductor this buyer allows
    stocked_gauges: frozenset[str] | None  # None: every size of the build's gauge basis
    stocked_ratings_a: frozenset[float] | None  # None: every rating that is made

    def bundle_of(self, part: Circuit | Run) -> int:
        """Current-carrying conductors around a circuit's or run's: those of its bundle, and never fewer than were typed."""
        bundle = self.bundle_named(part)
        return part.bundle if bundle is None else max(part.bundle, bundle.together)

    def bundle_named(self, part: Circuit | Run) -> Bundle | None:
        """The bundle that a circuit or a run names, where it names one."""
        return self.bundles.get(bundle_key(part.bundle_name)) if part.bundle_name else None

    def drop_rule(self, load: Load) -> DropRule:
        """The rule of the load's class, or the one for all others."""
        return self.rule_of_load[load.key]

    def ambient_c(self, zone_keys: tuple[str, ...]) -> float:
        """The hottest of these zones; a zone that the platform does not have counts as the amperage table's 30 °C."""
        return max([self.zones[key].ambient_c for key in zone_keys if key in self.zones], default=30.0)

    def ambient_of_c(self, zone_key: str) -> float:
        """The same of one zone."""
        zone = self.zones.get(zone_key)
        return 30.0 if zone is None else zone.ambient_c

    def zone_name(self, key: str) -> str:
        """The zone's name, or its key where the platform does not have it."""
        return self.zones[key].name if key in self.zones else key

    def on_shelf(self, ratings_a: Iterable[float], least_a: float | None, most_a: float) -> list[float]:
        """The ratings between two that the shop has; none where there is no least."""
        stocked_a = self.stocked_ratings_a
        return [
            rating_a
            for rating_a in ratings_a
            if least_a is not None and least_a <= rating_a <= most_a and (stocked_a is None or rating_a in stocked_a)
        ]

    def batteries(self) -> tuple[PowerNode, ...]:
        """Batteries in the design's order; one without figures feeds nothing."""
        return self.able_batteries

    def alternators(self) -> tuple[PowerNode, ...]:
        """Alternators in the design's order; one without figures gives nothing."""
        return self.able_alternators


def drop_rules_of(buyer: Buyer) -> dict[str, DropRule]:
    """Return the drop rules by class: the buyer's own, and the default of each class for which they have none."""
    rules = {rule.drop_class: rule for rule in DEFAULT_DROP_RULES}
    rules.update({rule.drop_class: rule for rule in buyer.drop_rules if not rule.holds_beside})
    return rules


def index_design(design: Design) -> IndexedDesign:
    """
    Return the design with its lookups; figures of another kind of node than the one they stand at count for nothing.

    The vehicle maker's wires to access points that nothing drawn leads to stand among its runs.
    """
    design = _without_strange_figures(design)
    wires = makers_wires(design)
    if wires:
        design = replace(design, runs=(*design.runs, *wires))
    buyer, drop_rules = design.buyer, drop_rules_of(design.buyer)
    rule_of_load = _rules_of_loads(design, drop_rules)
    in_use = [drop_rules[GENERAL_CLASS], *rule_of_load.values()]
    return IndexedDesign(
        design=design,
        nodes={node.key: node for node in design.nodes},
        able_batteries=tuple(
            node for node in design.nodes if node.kind is NodeKind.BATTERY and node.battery is not None
        ),
        able_alternators=tuple(
            node for node in design.nodes if node.kind is NodeKind.ALTERNATOR and node.alternator is not None
        ),
        runs={run.key: run for run in design.runs},
        makers_wires=wires,
        diodes_v=diodes_of(design.nodes),
        dead_points=_dead_points(design),
        battery_ends=battery_ends(design),
        zones={zone.key: zone for zone in design.platform.zones},
        no_mount={place.zone: place for place in design.platform.no_mount_zones},
        loads={load.key: load for load in design.loads},
        load_row={load.key: row for row, load in enumerate(design.loads)},
        loads_of=_grouped(design.loads, lambda load: load.circuit),
        circuits_of=_grouped(design.circuits, lambda circuit: circuit.panel),
        conditions={condition.key: condition for condition in design.conditions},
        used_loads=frozenset(use.load for condition in design.conditions for use in condition.uses),
        drop_rules=drop_rules,
        rules_in_use={rule.key: rule for rule in in_use},
        rule_of_load=rule_of_load,
        under_rule=_under_rules([rule_of_load[load.key].key for load in design.loads], in_use),
        rules_beside=tuple(rule for rule in buyer.drop_rules if rule.holds_beside),
        numbers={key: rule_number(buyer, key) for key, rule in RULES.items() if not isinstance(rule.default, str)},
        texts={key: rule_text(buyer, key) for key, rule in RULES.items() if isinstance(rule.default, str)},
        bundles=bundles_of(design),
        least_area_mm2=gauge_area_mm2(design.conventions.gauge_basis, rule_text(buyer, "min-gauge")),
        stocked_gauges=_listed(rule_text(buyer, "stocked-gauges")),
        stocked_ratings_a=_listed_ratings(rule_text(buyer, "stocked-ratings")),
    )


def resized_index(was: IndexedDesign, design: Design) -> IndexedDesign:
    """Return the lookups of a design that differs from one looked up before in the sizes of wires and devices alone."""
    runs = design.runs
    if was.makers_wires and runs[-1:] != was.makers_wires[-1:]:
        runs = (*runs, *was.makers_wires)
    return replace(
        was,
        design=replace(design, nodes=was.design.nodes, runs=runs),
        runs={run.key: run for run in runs},
        circuits_of=_grouped(design.circuits, lambda circuit: circuit.panel),
    )


def _dead_points(design: Design) -> Mapping[SourceState, frozenset[str]]:
    """By what feeds the vehicle, the access points that give nothing then; one behind a switch may be on at any time."""
    named = [node for node in design.nodes if node.kind is NodeKind.ACCESS_POINT]
    if not named:
        return _NONE_DEAD
    points = {point.key: point for point in design.platform.access_points}
    hot = {
        node.key: points[node.access_point].hot_when
        for node in named
        if node.access_point in points and points[node.access_point].polarity is Polarity.POSITIVE
    }
    return {
        state: frozenset(key for key, hot_when in hot.items() if state in _DEAD_IN[hot_when]) for state in SourceState
    }


def _without_strange_figures(design: Design) -> Design:
    """The design with batteries' figures at batteries only, and likewise for all else: a bus that carries some is a bus."""
    if not any(_strange(node) for node in design.nodes):
        return design
    return replace(design, nodes=tuple(_as_its_kind(node) for node in design.nodes))


def _strange(node: PowerNode) -> list[str]:
    return [field for field in _FIGURES if getattr(node, field) is not None and FIGURES_OF.get(node.kind) != field]


def _as_its_kind(node: PowerNode) -> PowerNode:
    nothing: dict[str, Any] = dict.fromkeys(_strange(node))
    return replace(node, **nothing)


def _listed(text: str) -> frozenset[str] | None:
    """The words of a list parted by commas or blanks; None where it says that all are meant."""
    words = frozenset(text.replace(",", " ").split())
    return None if not words or words == {"all"} else words


def _listed_ratings(text: str) -> frozenset[float] | None:
    """The numbers of such a list; what is no number is no rating."""
    words = _listed(text)
    if words is None:
        return None
    numbers = (word.removesuffix("A") for word in words)
    return frozenset(float(number) for number in numbers if number.replace(".", "", 1).isdecimal())


def _rules_of_loads(design: Design, drop_rules: Mapping[str, DropRule]) -> dict[str, DropRule]:
    """The rule of each load's class; one that follows the bus is a part of the load's own nominal voltage."""
    nominal = {node.key: node.nominal_v for node in design.nodes}
    bus_v = {circuit.number: nominal.get(circuit.panel, _DEFAULT_BASE_V) for circuit in design.circuits}
    rule_of: dict[str, DropRule] = {}
    for load in design.loads:
        rule = drop_rules.get(load.drop_class, drop_rules[GENERAL_CLASS])
        base_v = bus_v.get(load.circuit, _DEFAULT_BASE_V)
        if base_v != rule.base_v and _follows_bus(rule):
            rule = replace(rule, key=f"{rule.key}-{base_v:g}-V", base_v=base_v)
        rule_of[load.key] = rule
    return rule_of


def _follows_bus(rule: DropRule) -> bool:
    """Whether it says so, or is a default of the shop as it was copied before rules could say so."""
    return rule.follows_bus or replace(rule, follows_bus=True) in DEFAULT_DROP_RULES


def _under_rules(keys: list[str], rules: Iterable[DropRule]) -> dict[str, NDArray[np.float64]]:
    of_loads = np.array(keys)
    return {key: (of_loads == key).astype(np.float64) for key in {rule.key: None for rule in rules}}


def _grouped(parts: Iterable[Part], key_of: Callable[[Part], str]) -> dict[str, tuple[Part, ...]]:
    groups: dict[str, list[Part]] = {}
    for part in parts:
        groups.setdefault(key_of(part), []).append(part)
    return {key: tuple(group) for key, group in groups.items()}
