"""Weight of a build's sheet: axles, cases of fuel and people, and zones, as they are printed."""

from collections import defaultdict
from dataclasses import dataclass

from builds.drawings.margin_bar import figure
from builds.engineering.assessment import WeightCase
from builds.engineering.buyer_rules import rule_number
from builds.engineering.weight import SEAT_ALLOWANCE_KG
from builds.selectors.build_sheet import Sheet
from builds.selectors.sheet_findings import Margin, margins_of, row_id

__all__ = ["AxleFigure", "WeightCaseRow", "ZoneWeight", "weight_cases", "weight_figures", "zone_weights"]

_NOTHING = Margin()


@dataclass(frozen=True, slots=True)
class ZoneWeight:
    """What is put in a zone, and the maker's limit where there is one, in the unit shown."""

    element_id: str
    margin: Margin
    key: str
    name: str
    added: str
    added_mass: float
    limit: float | None


@dataclass(frozen=True, slots=True)
class AxleFigure:
    """A weight against its rating, in the unit shown."""

    name: str
    mass: float
    rating: float
    note: str
    working: str

    @property
    def words(self) -> str:
        """The mass as printed."""
        return figure(self.mass, places=0)


@dataclass(frozen=True, slots=True)
class WeightCaseRow:
    """
    A case of fuel and people: front axle, rear axle, left wheels, right wheels, all of it, each with the kind of its working and
    as printed. ``place`` is the case's own, counted from 1.
    """

    place: str
    name: str
    masses: tuple[tuple[str, str], ...]


def weight_figures(sheet: Sheet) -> list[AxleFigure]:
    """Return each axle and the whole vehicle against its rating, in the unit shown."""
    weight, measures = sheet.assessment.weight, sheet.measures
    gross = weight.gvwr_kg - weight.payload_left_kg
    return [
        AxleFigure("Front axle", measures.mass(weight.front_axle_kg), measures.mass(weight.gawr_front_kg), "GAWR", "front-axle"),
        AxleFigure("Rear axle", measures.mass(weight.rear_axle_kg), measures.mass(weight.gawr_rear_kg), "GAWR", "rear-axle"),
        AxleFigure(
            f"Vehicle with 150 lb on each of {sheet.design.platform.seats} seats", measures.mass(gross),
            measures.mass(weight.gvwr_kg), "GVWR", "payload",
        ),
        *_with_crew(sheet),
    ]  # fmt: skip


def _with_crew(sheet: Sheet) -> list[AxleFigure]:
    """The vehicle with the buyer's own crew, where that weighs something else than the regulation's."""
    weight, measures, crew_kg = sheet.assessment.weight, sheet.measures, rule_number(sheet.design.buyer, "crew-mass")
    if weight.crew_payload_left_kg is None or abs(crew_kg - SEAT_ALLOWANCE_KG) < 0.01:
        return []
    words = f"Vehicle with its crew, {measures.mass_words(crew_kg)} {measures.mass_unit} on each of {sheet.design.platform.seats} seats"
    gross_kg = weight.gvwr_kg - weight.crew_payload_left_kg
    return [AxleFigure(words, measures.mass(gross_kg), measures.mass(weight.gvwr_kg), "GVWR", "payload-crew")]


def weight_cases(sheet: Sheet) -> list[WeightCaseRow]:
    """Return what axles and sides carry with other fuel and people than as built; nothing where the platform says neither."""
    cases = sheet.assessment.weight.cases
    if len(cases) == 1 and cases[0].left_kg is None:
        return []
    return [
        WeightCaseRow(
            place=str(place),
            name=case.name[:1].upper() + case.name[1:],
            masses=tuple(
                (kind, "–" if mass_kg is None else figure(sheet.measures.mass(mass_kg), places=0))
                for kind, mass_kg in _masses(case)
            ),
        )
        for place, case in enumerate(cases, start=1)
    ]


def _masses(case: WeightCase) -> tuple[tuple[str, float | None], ...]:
    """What a case's axles, sides and whole carry, each with the kind of its working."""
    return (
        ("case-front", case.front_axle_kg),
        ("case-rear", case.rear_axle_kg),
        ("case-left", case.left_kg),
        ("case-right", case.right_kg),
        ("case-together", case.total_kg),
    )


def zone_weights(sheet: Sheet) -> list[ZoneWeight]:
    """Return what is put in each zone of the vehicle, zones with nothing put there and no limit left out."""
    added: dict[str, float] = defaultdict(float)
    for part in sheet.design.parts:
        if not part.removed:
            added[part.zone] += part.mass_kg * part.quantity
    margins, measures = margins_of(sheet), sheet.measures
    return [
        ZoneWeight(
            row_id(f"zone:{zone.key}"), margins.get(f"zone:{zone.key}", _NOTHING), zone.key, zone.name,
            measures.mass_words(added[zone.key]), measures.mass(added[zone.key]),
            None if zone.max_load_kg is None else measures.mass(zone.max_load_kg),
        )
        for zone in sheet.design.platform.zones
        if added[zone.key] or zone.max_load_kg is not None
    ]  # fmt: skip
