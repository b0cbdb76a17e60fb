"""Which fields a row of a design has on the page, in which order, under which words, and what may be chosen."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from builds.engineering import design as core
from builds.engineering.vocabulary import NodeKind, UnitSystem
from builds.forms.curve_field import CURVE_HINT
from builds.forms.source_field import SOURCES_HINT

__all__ = ["FAMILY_FIELDS", "RowChoices", "RowField"]

_PARTS: dict[str, type[Any]] = {
    "node": core.PowerNode,
    "run": core.Run,
    "circuit": core.Circuit,
    "load": core.Load,
    "condition": core.OperatingCondition,
    "shed": core.ShedStep,
    "duty": core.DutyProfile,
    "segment": core.DutySegment,
    "operation": core.Operation,
    "part": core.PartsBillLine,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RowField:
    """
    One field of a row, by the document's name ("battery.capacity_ah" reaches into a nested part).

    ``in_row`` fields stand in the row itself, the others under "More". ``offer`` names a list of :class:`RowChoices`.
    ``kinds`` are the kinds of node that have it. ``shown_as`` is "length", "mass", "percent" or "milliampere".
    """

    name: str
    label: str
    in_row: bool = False
    offer: str = ""
    unit: str = ""
    shown_as: str = ""
    hint: str = ""
    only_new: bool = False
    required: bool = False
    kinds: tuple[str, ...] = ()

    @property
    def form_name(self) -> str:
        """The name in a form."""
        return self.name.replace(".", "__")

    @staticmethod
    def part_class(family: str) -> type[Any]:
        """Return the dataclass whose fields a family shows."""
        return _PARTS[family]


@dataclass(frozen=True, slots=True, kw_only=True)
class RowChoices:
    """What a build offers to choose from, and the units it is written in."""

    units: UnitSystem
    lists: Mapping[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)

    def of(self, spec: RowField) -> tuple[tuple[str, str], ...] | None:
        """Return what is offered for a field, ``None`` where it is typed."""
        return self.lists.get(spec.offer, ()) if spec.offer else None


def _f(name: str, label: str, **more: Any) -> RowField:
    return RowField(name=name, label=label, **more)


_ROW = {"in_row": True}
_BATTERY = {"kinds": (NodeKind.BATTERY.value,), "required": True}
_ALTERNATOR = {"kinds": (NodeKind.ALTERNATOR.value,), "required": True}
_SOURCE = {"kinds": (NodeKind.DCDC.value, NodeKind.SHORE.value, NodeKind.SOLAR.value), "required": True}
_CONVERTER = {"kinds": (NodeKind.CONVERTER.value,), "required": True}
_SWITCHED_HINT = "Keys of isolators and disconnects with commas: MD, ISO"
_PANEL = {"kinds": (NodeKind.PANEL.value, NodeKind.MODULE.value), "required": True}
_ZONES_HINT = "Zone keys with commas: ENG, CAB"

FAMILY_FIELDS: dict[str, tuple[RowField, ...]] = {
    "circuit": (
        _f("number", "Number", only_new=True, in_row=True),
        _f("legend", "Legend on wire", **_ROW),
        _f("device_rating_a", "Fuse", unit="A", **_ROW),
        _f("gauge", "Gauge", offer="gauges", **_ROW),
        _f("colour", "Colour", hint="Two letters, a stripe after a stroke: WH/RD", **_ROW),
        _f("length_m", "Length", shown_as="length", **_ROW),
        _f("panel", "Panel", offer="panels"),
        _f("position", "Position"),
        _f("device_family", "Device family", offer="device_families"),
        _f("return_node", "Returns to", offer="returns"),
        _f("return_length_m", "Return length", shown_as="length"),
        _f("insulation_c", "Insulation", unit="°C"),
        _f("bundle", "Conductors in bundle"),
        _f("bundle_name", "Bundle", hint="What names the same bundle is counted together"),
        _f("zones", "Passes zones", hint=_ZONES_HINT),
    ),
    "load": (
        _f("key", "Key", only_new=True, in_row=True),
        _f("circuit", "Circuit", only_new=True, offer="circuits"),
        _f("name", "Load", **_ROW),
        _f("zone", "Zone", offer="zones", **_ROW),
        _f("current_a", "Current each", unit="A", **_ROW),
        _f("quantity", "Quantity", **_ROW),
        _f("duty_ratio", "Lit part", shown_as="percent", hint="100 % when steady", **_ROW),
        _f("at_v", "At", unit="V", **_ROW),
        _f("model", "Takes", offer="load_models"),
        _f("can_be_steady", "Can be held on"),
        _f("continuous", "Runs continuously"),
        _f("inrush_a", "Inrush", unit="A"),
        _f("min_v", "Off below", unit="V"),
        _f("max_v", "Harmed above", unit="V"),
        _f("switching", "Switched at", offer="switchings"),
        _f("key_off_a", "Asleep, each", shown_as="milliampere"),
        _f("drop_class", "Drop class", hint="general, critical, radio, or a class of this buyer's rules"),
        _f("shed_step", "Shed with", offer="shed_steps"),
        _f("never_shed", "Never shed"),
        _f("run_on_min", "Runs on after the key", unit="min"),
        _f("jump_v", "Bears in a jump start", unit="V", hint="By its data sheet; empty: not known"),
        _f("reversed_battery", "Battery the wrong way", offer="reversals"),
        _f("suppression", "Coil", offer="suppressions"),
        _f("other_return", "Has another way back", hint="An antenna lead, the shield of a data cable, a metal bracket"),
    ),
    "run": (
        _f("key", "Run", only_new=True, in_row=True),
        _f("from_node", "From", offer="nodes", **_ROW),
        _f("to_node", "To", offer="nodes", **_ROW),
        _f("gauge", "Gauge", offer="gauges", **_ROW),
        _f("length_m", "Length", shown_as="length", **_ROW),
        _f("device_rating_a", "Device", unit="A", **_ROW),
        _f("device_family", "Device family", offer="device_families"),
        _f("device_distance_m", "Device from battery end", shown_as="length"),
        _f("device_at_both_ends", "Device at both ends", hint="Where both ends have a source"),
        _f("side", "Side", offer="sides"),
        _f("parallel", "Cables in parallel"),
        _f("bundle", "Conductors in bundle"),
        _f("bundle_name", "Bundle", hint="What names the same bundle is counted together"),
        _f("insulation_c", "Insulation", unit="°C"),
        _f("zones", "Passes zones", hint=_ZONES_HINT),
        _f("resistance_mohm", "Own resistance", unit="mΩ", hint="Only where it stands in for the conductor's: a strap"),
        _f("makers_own", "Vehicle maker's own", hint="Cable and protection came with the vehicle"),
    ),
    "node": (
        _f("key", "Key", only_new=True, in_row=True),
        _f("kind", "Kind", only_new=True, offer="node_kinds"),
        _f("name", "Name", **_ROW),
        _f("zone", "Zone", offer="zones", **_ROW),
        _f("rating_a", "Carries at most", unit="A", **_ROW),
        _f("nominal_v", "Nominal", unit="V"),
        _f("resistance_mohm", "Own resistance", unit="mΩ"),
        _f("chassis", "Bolted to", offer="chassis", kinds=(NodeKind.GROUND.value,)),
        _f("metal", "Continuous metal", kinds=(NodeKind.CHASSIS.value,), hint="One that is not carries nothing back"),
        _f("isolator", "Isolator", offer="isolator_kinds", kinds=(NodeKind.ISOLATOR.value,)),
        _f(
            "forward_v",
            "Its diodes lose",
            unit="V",
            hint="Diode isolators, 0.5 to 0.9 V; empty: 0.7 V",
            kinds=(NodeKind.ISOLATOR.value,),
        ),
        _f(
            "access_point",
            "Maker's access point",
            offer="access_points",
            kinds=(NodeKind.ACCESS_POINT.value,),
            required=True,
        ),
        _f("battery.capacity_ah", "Capacity", unit="Ah", hint="On its label", **_BATTERY),
        _f("battery.rated_hours", "Rated over", unit="h", hint="20 for most lead batteries", **_BATTERY),
        _f(
            "battery.peukert_exponent",
            "Peukert exponent",
            hint="1.1 to 1.3 for lead, near 1.05 for lithium",
            **_BATTERY,
        ),
        _f(
            "battery.internal_mohm",
            "Internal resistance",
            unit="mΩ",
            hint="Data sheet, or a battery tester",
            **_BATTERY,
        ),
        _f("battery.open_circuit_v", "Full, at rest", unit="V", hint="No charger, no load, some hours", **_BATTERY),
        _f(
            "battery.usable_ratio",
            "May be used",
            shown_as="percent",
            hint="Of its capacity, before it counts as empty",
            **_BATTERY,
        ),
        _f("battery.kind", "Made of", offer="battery_kinds", kinds=(NodeKind.BATTERY.value,)),
        _f("battery.reserve_min", "Reserve", unit="min", kinds=(NodeKind.BATTERY.value,)),
        _f(
            "battery.acceptance_per_h",
            "Takes charge at",
            shown_as="percent",
            hint="Of its capacity an hour; empty: 20 %, from memory",
            kinds=(NodeKind.BATTERY.value,),
        ),
        _f(
            "battery.least_charge_c",
            "No charge below",
            unit="°C",
            hint="Lithium, by its data sheet; empty: none such",
            kinds=(NodeKind.BATTERY.value,),
        ),
        _f(
            "battery.cut_off_v",
            "Switches itself off below",
            unit="V",
            hint="Its own electronics; empty: none such",
            kinds=(NodeKind.BATTERY.value,),
        ),
        _f(
            "battery.self_discharge_per_day_ratio",
            "Loses by itself, a day",
            shown_as="percent",
            hint="Of its capacity; empty: 0.1 %, from memory",
            kinds=(NodeKind.BATTERY.value,),
        ),
        _f("alternator.rated_a", "Rated output", unit="A", hint="On its plate, cold", **_ALTERNATOR),
        _f("alternator.idle_ratio", "Hot at idle", shown_as="percent", hint="Of its rated output", **_ALTERNATOR),
        _f("alternator.speed_ratio", "Hot at speed", shown_as="percent", hint="Of its rated output", **_ALTERNATOR),
        _f(
            "alternator.low_v",
            "Set to, lowest",
            unit="V",
            kinds=_ALTERNATOR["kinds"],
            hint="Empty: as the condition says",
        ),
        _f("alternator.high_v", "Set to, highest", unit="V", kinds=_ALTERNATOR["kinds"]),
        _f("alternator.pulley_ratio", "Turns for one of the engine", kinds=_ALTERNATOR["kinds"]),
        _f("alternator.points", "Output curve", kinds=_ALTERNATOR["kinds"], hint=CURVE_HINT),
        _f("source.limit_a", "Gives at most", unit="A", **_SOURCE),
        _f("source.low_v", "Set to, lowest", unit="V", **_SOURCE),
        _f("source.high_v", "Set to, highest", unit="V", **_SOURCE),
        _f("converter.output_v", "Gives", unit="V", **_CONVERTER),
        _f("converter.limit_a", "Gives at most", unit="A", **_CONVERTER),
        _f("converter.efficiency_ratio", "Efficiency", shown_as="percent", **_CONVERTER),
        _f("converter.return_node", "Negatives at", offer="returns", **_CONVERTER),
        _f("converter.idle_w", "Takes for itself", unit="W", kinds=_CONVERTER["kinds"]),
        _f("converter.min_v", "Off below", unit="V", kinds=_CONVERTER["kinds"]),
        _f("panel.positions", "Positions", **_PANEL),
        _f("panel.columns", "Columns", **_PANEL),
        _f("panel.hinge", "Door hinge at", kinds=_PANEL["kinds"]),
    ),
    "condition": (
        _f("key", "Key", only_new=True, in_row=True),
        _f("name", "Condition", **_ROW),
        _f("source_state", "Fed by", offer="source_states", **_ROW),
        _f("source_low_v", "Lowest", unit="V", **_ROW),
        _f("source_high_v", "Highest", unit="V", **_ROW),
        _f("min_hours", "Batteries carry it, at least", unit="h", **_ROW),
        _f("engine_rpm", "Engine speed"),
        _f("ambient_c", "Under the hood", unit="°C"),
        _f("sources", "Sources", hint=SOURCES_HINT),
        _f("open_nodes", "Opened", hint=_SWITCHED_HINT),
        _f("closed_nodes", "Closed", hint=_SWITCHED_HINT),
        _f("reserve_test_min", "Engine-off test of the reserve", unit="min", hint="Empty: this is not its load"),
    ),
    "shed": (
        _f("key", "Step", only_new=True, in_row=True),
        _f("name", "Sheds", **_ROW),
        _f("off_below_v", "Off below", unit="V", **_ROW),
        _f("off_delay_s", "for", unit="s", **_ROW),
        _f("on_above_v", "On above", unit="V", **_ROW),
        _f("on_delay_s", "for", unit="s", **_ROW),
        _f("battery", "Watches", offer="batteries", hint="Empty: the battery that feeds its loads"),
        _f("ignores_crank", "Cranking does not count"),
    ),
    "duty": (
        _f("key", "Profile", only_new=True, in_row=True),
        _f("name", "Name", **_ROW),
        _f("start_ratio", "Charge at its start", shown_as="percent", **_ROW),
        _f("battery_c", "Batteries at", unit="°C", **_ROW),
        _f("crank_a", "Starter takes", unit="A", hint="Empty: the platform's, else a figure from memory"),
        _f("crank_s", "Cranked for", unit="s", hint="Empty: a figure from memory"),
        _f("crank_least_v", "Starts at, least", unit="V", hint="Empty: the platform's, else the usual 9.6 V"),
        _f("crank_cable_mohm", "Cable to the starter and back", unit="mΩ", hint="Empty: the platform's"),
    ),
    "segment": (
        _f("key", "Segment", only_new=True, in_row=True),
        _f("profile", "Profile", offer="duties", **_ROW),
        _f("condition", "Condition", offer="conditions", **_ROW),
        _f("duration_min", "Lasts", unit="min", **_ROW),
        _f("engine_stops", "Engine stops"),
        _f("stop_s", "Each stop", unit="s"),
    ),
    "operation": (
        _f("key", "Key", only_new=True, in_row=True),
        _f("name", "Operation", **_ROW),
        _f("place", "Where", offer="places", **_ROW),
        _f("phase", "Phase", offer="phases", **_ROW),
        _f("skill", "Skill", **_ROW),
        _f("standard_h", "Hours each", unit="h", **_ROW),
        _f("quantity", "Quantity", **_ROW),
        _f("crew", "Crew", **_ROW),
        _f("after", "Comes after", hint="Keys with commas: O1, O2"),
    ),
    "part": (
        _f("key", "Line", only_new=True, in_row=True),
        _f("part_number", "Part number", hint="One of the catalogue, found as you type, or a new one", **_ROW),
        _f("description", "Description", **_ROW),
        _f("quantity", "Quantity", **_ROW),
        _f("zone", "Zone", offer="zones", **_ROW),
        _f("supplied_by", "Supplied by", offer="suppliers", **_ROW),
        _f("unit_price", "Price each", **_ROW),
        _f("mass_kg", "Mass each", shown_as="mass", **_ROW),
        _f("installed_by", "Installed by", offer="operations", hint="Its step takes the part from the stores"),
        _f("unit", "Unit", hint="each, m, ft"),
        _f("unit_cost", "Cost each"),
        _f("taxed", "Taxed"),
        _f("serial_required", "Serial number asked"),
        _f("programmable", "Programmable", hint="A file has to be loaded into each"),
        _f("removed", "Taken off the vehicle"),
    ),
}
