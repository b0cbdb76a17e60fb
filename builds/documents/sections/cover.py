"""The cover: which vehicle this is, what is in the packet, what is still open."""

from dataclasses import dataclass

from builds.documents.packet_context import Measured, PacketContext
from builds.drawings.palette import PRINT
from builds.drawings.power_tree import live_nodes
from builds.drawings.qr_code import draw_qr_code
from builds.drawings.vehicle_plan import draw_vehicle_plan
from builds.engineering.vocabulary import NodeKind

__all__ = ["Cover", "Fact", "OpenItem", "RevisionLine", "cover_of", "revision_lines"]

_LB_150_KG = 68.0388555  # 150 lb a designated seat: 49 CFR 567.4(g)(3)
_OPEN_LISTED = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """A line of the identity: calculated and measured stand one under the other; ``missing`` names what nobody measured."""

    label: str
    lines: tuple[str, ...]
    missing: str = ""
    on_object: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenItem:
    """A step without a passing result at issue."""

    state: str
    word: str
    title: str
    left_open: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionLine:
    """A line of the revision block."""

    letter: str
    summary: str
    date: str
    authorised: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """Everything on the first page."""

    qr: str
    plan: str
    facts: tuple[Fact, ...]
    before_work: str
    open_items: tuple[OpenItem, ...]
    open_more: int
    revisions: tuple[RevisionLine, ...]
    revisions_before: int


def cover_of(context: PacketContext) -> Cover:
    """Return the cover."""
    still_open = open_items(context)
    revisions = revision_lines(context)
    return Cover(
        qr=draw_qr_code(context.input.issue.vehicle_address, title="The record of this vehicle", size_px=112),
        plan=draw_vehicle_plan(context.design, palette=PRINT, labels=False),
        facts=tuple(_facts(context)),
        before_work=before_work(context),
        open_items=tuple(still_open[:_OPEN_LISTED]),
        open_more=max(0, len(still_open) - _OPEN_LISTED),
        revisions=revisions[:3],
        revisions_before=max(0, len(revisions) - 3),
    )


def _facts(context: PacketContext) -> list[Fact]:
    vehicle, units = context.design.vehicle, context.quantities
    newest = context.input.check_ins[-1] if context.input.check_ins else None
    odometer = (f"{units.distance(newest.odometer_km)}, {units.weekday(newest.at)}",) if newest else ()
    return [
        Fact(
            label="VIN",
            lines=(vehicle.vin,) if vehicle.vin else (),
            missing="" if vehicle.vin else "not known",
            on_object=True,
        ),
        Fact(label="Vehicle", lines=(f"{context.design.platform.name}, {context.design.platform.version}",)),
        Fact(label="Odometer", lines=odometer, missing="" if newest else "not recorded"),
        Fact(label="Purchase order", lines=(context.design.purchase_order or "none given",)),
        _payload(context),
        _key_off(context),
    ]


def _payload(context: PacketContext) -> Fact:
    calculated = f"{context.quantities.mass(context.assessment.weight.payload_left_kg)} calculated"
    measured_kg = measured_payload_kg(context)
    if measured_kg is None:
        return Fact(label="Payload left", lines=(calculated,), missing="by scale: not measured")
    return Fact(label="Payload left", lines=(calculated, f"{context.quantities.mass(measured_kg)} by scale"))


def measured_payload_kg(context: PacketContext) -> float | None:
    """Rating less both axles as weighed and 150 lb a seat, or None unless both axles were weighed."""
    front, rear = (_reading(context.measured.get(f"weigh/{axle}")) for axle in ("front", "rear"))
    if front is None or rear is None:
        return None
    platform = context.design.platform
    return platform.gvwr_kg - front - rear - platform.seats * _LB_150_KG


def _reading(measured: Measured | None) -> float | None:
    return float(measured.tick.reading) if measured and measured.tick and measured.tick.reading is not None else None


def _key_off(context: PacketContext) -> Fact:
    energy = context.assessment.energy
    calculated = f"{energy.key_off_ma:.0f} mA calculated"
    measured = context.measured.get("key-off")
    if measured is None or not measured.figure:
        return Fact(
            label="Key-off draw", lines=(calculated,), missing=f"not measured, limit {energy.key_off_limit_ma:.0f} mA"
        )
    return Fact(
        label="Key-off draw",
        lines=(calculated, f"{measured.figure} mA measured, limit {energy.key_off_limit_ma:.0f} mA"),
    )


def before_work(context: PacketContext) -> str:
    """What to do before any work on this vehicle, in a sentence or two."""
    if not context.disconnects:
        return "This build has no main disconnect. Follow the vehicle maker's guide to take the batteries off. See section 5."
    opened = " and ".join(
        f"{node.key} {node.name.lower()} ({context.place(node.zone)})" for node in context.disconnects
    )
    live = [key for key in live_nodes(context.design) if context.nodes[key].kind in (NodeKind.PANEL, NodeKind.MODULE)]
    stays = (
        f"{len(live)} panel{'s' if len(live) > 1 else ''} and everything before it" if live else "Everything before it"
    )
    return f"Open {opened}. {stays} stays live: section 5."


def open_items(context: PacketContext) -> list[OpenItem]:
    """Steps that were not passed at issue, the defective ones first."""
    words = {"defective": ("defective", "Defective"), "": ("to_do", "Not done")}
    items = [
        OpenItem(state=words[step.result][0], word=words[step.result][1], title=step.title, left_open=step.left_open)
        for step in context.input.steps
        if step.result in words
    ]
    return sorted(items, key=lambda item: item.state)


def revision_lines(context: PacketContext) -> tuple[RevisionLine, ...]:
    """Revisions, the newest first, with who authorised each."""
    lines = []
    for revision in reversed(context.input.revisions):
        names = dict.fromkeys(item.authorised_by for item in revision.authorisations)
        lines.append(
            RevisionLine(
                letter=revision.letter,
                summary=revision.summary,
                date=context.quantities.day(revision.released_at),
                authorised=", ".join(names) or "not authorised",
            )
        )
    return tuple(lines)
