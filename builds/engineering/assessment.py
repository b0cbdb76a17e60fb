"""What the core says of a design: figures per condition, circuit, run and panel, the totals of the strip, and findings."""

from dataclasses import dataclass
from decimal import Decimal

from builds.engineering.findings import Finding, Severity

__all__ = [
    "AlternatorUse",
    "Assessment",
    "CircuitResult",
    "ConditionResult",
    "EnergyResult",
    "GroundResult",
    "LabourResult",
    "PanelResult",
    "PriceResult",
    "ProfileBattery",
    "ProfileResult",
    "ProfileShedding",
    "ProfileStart",
    "ReserveResult",
    "RunResult",
    "WeightCase",
    "WeightResult",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class AlternatorUse:
    """
    What the sources that charge can give in a condition and what is left of it.

    ``charging_a`` is what converters that charge other batteries take beyond what those batteries' loads do.
    """

    available_a: float
    margin_a: float
    estimate: bool
    charging_a: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionResult:
    """
    One operating condition: the mean, RMS and peak of all loads together, and how the source stands.

    Mean is for source and battery, RMS for the heat of fuses and conductors, peak for drop and switching.
    ``battery_h`` is the time to cut-off where no alternator runs.
    """

    key: str
    name: str
    mean_a: float
    rms_a: float
    peak_a: float
    source: AlternatorUse | None
    battery_h: float | None
    min_hours: float | None
    lowest_load_v: float | None
    lowest_load_key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitResult:
    """One circuit at its worst; ``continuous_a`` is what its fuse and wire are sized on."""

    number: str
    mean_a: float
    continuous_a: float
    peak_a: float
    drop_v: float
    drop_ratio: float
    drop_limit_ratio: float
    drop_base_v: float
    drop_rule: str
    worst_condition: str
    load_v: float
    ampacity_a: float
    prospective_a: float
    far_end_fault_a: float
    proposed_gauge: str
    proposed_rating_a: float
    deciding_rule: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunResult:
    """One run at its worst."""

    key: str
    mean_a: float
    continuous_a: float
    peak_a: float
    drop_v: float
    ampacity_a: float
    prospective_a: float | None
    worst_condition: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelResult:
    """One panel or module: positions used and its continuous current in the worst condition."""

    key: str
    positions_used: int
    positions: int
    continuous_a: float
    feed_drop_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundResult:
    """One ground stud or return bus: how far it stands above the battery's negative post at its worst, everything lit."""

    key: str
    rise_v: float
    worst_condition: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EnergyResult:
    """
    Key-off draw of the whole build and how long the vehicle may stand.

    ``run_on_ah`` is what timers take once after the key is off, of the battery that can spare it least.
    """

    key_off_ma: float
    key_off_limit_ma: float
    key_off_days: float | None
    run_on_ah: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileBattery:
    """
    One battery over a duty profile: its lowest charge and voltage, its charge at the end, and its ampere-hours.

    ``cut_off_h`` is when the part of it that may be used was used, None where it never was.
    """

    key: str
    lowest_ratio: float
    lowest_v: float
    end_ratio: float
    cut_off_h: float | None
    given_ah: float
    taken_ah: float
    peukert_extra_ah: float
    charge_lost_ah: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileStart:
    """One start of the engine: the voltage left at the starter, and the loads that drop out while it is cranked."""

    segment: str
    at_h: float
    charge_ratio: float
    starter_v: float
    least_v: float
    holds: bool
    dropped: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileShedding:
    """
    What one step did in one segment: how often it switched off, first when, and whether it was off at the end.

    ``at_least`` tells that it was kept off after so many times, and would have gone on.
    """

    step: str
    segment: str
    count: int
    first_h: float
    off_at_end: bool
    at_least: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileResult:
    """
    A duty profile as it was simulated; ampere-hours given and taken agree to ``difference_ah``.

    ``unserved_ah`` is what loads asked of empty batteries and did not get. From ``valid_h`` on a step that switched too
    often was kept off, and the figures are better than the vehicle's; None where they hold throughout.
    """

    key: str
    name: str
    hours: float
    batteries: tuple[ProfileBattery, ...]
    starts: tuple[ProfileStart, ...]
    shedding: tuple[ProfileShedding, ...]
    source_ah: float
    load_ah: float
    crank_ah: float
    difference_ah: float
    unserved_ah: float = 0.0
    valid_h: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReserveResult:
    """
    The engine-off test of one battery: what the load takes of its reserve in the test's time, and what it may take.

    ``starter_v`` is what is left at the starter afterwards, for the battery that starts the engine.
    """

    key: str
    battery: str
    minutes: float
    load_a: float
    used_ah: float
    allowed_ah: float
    used_ratio: float
    starter_v: float | None
    least_v: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LabourResult:
    """Hours: crew hours are people's time, elapsed hours the time the work takes."""

    crew_h: float
    elapsed_h: float
    by_phase: tuple[tuple[str, float], ...]
    by_place: tuple[tuple[str, float], ...]
    by_skill: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightCase:
    """The vehicle with so much fuel and so many people in it; sides are None where the platform does not say its track."""

    name: str
    front_axle_kg: float
    rear_axle_kg: float
    left_kg: float | None
    right_kg: float | None

    @property
    def total_kg(self) -> float:
        """Both axles together."""
        return self.front_axle_kg + self.rear_axle_kg


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightResult:
    """
    Mass added and what is left: payload after 150 lb a seat, and each axle against its rating.

    ``cases`` are the vehicle as built, then nearly out of fuel, then with somebody in every seat: at the regulation's mass and
    as the buyer's crew weighs, with a full tank and nearly without fuel. Those with people are there where the platform says where
    they sit.
    """

    added_kg: float
    payload_left_kg: float
    front_axle_kg: float
    rear_axle_kg: float
    gvwr_kg: float
    gawr_front_kg: float
    gawr_rear_kg: float
    label_threshold_kg: float
    crew_payload_left_kg: float | None = None
    cases: tuple[WeightCase, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceResult:
    """Money of the build, rounded half up per line: parts, labour, tax, total."""

    parts: Decimal
    labour: Decimal
    tax: Decimal
    total: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionResult:
    """
    The worst that a drop rule of a part of the way, or of some conditions only, has met.

    ``end`` is empty where the stretch ends at the loads of ``circuit``; otherwise that is one behind it.
    """

    rule: str
    start: str
    end: str
    circuit: str
    condition: str
    drop_v: float
    limit_v: float
    base_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """Everything the core says of one design; ``engine_version`` and ``tables`` tell what said it."""

    engine_version: str
    tables: tuple[str, ...]
    conditions: tuple[ConditionResult, ...]
    circuits: tuple[CircuitResult, ...]
    runs: tuple[RunResult, ...]
    panels: tuple[PanelResult, ...]
    energy: EnergyResult
    labour: LabourResult
    weight: WeightResult
    price: PriceResult
    findings: tuple[Finding, ...]
    grounds: tuple[GroundResult, ...] = ()
    profiles: tuple[ProfileResult, ...] = ()
    reserves: tuple[ReserveResult, ...] = ()
    sections: tuple[SectionResult, ...] = ()

    @property
    def blocking(self) -> tuple[Finding, ...]:
        """The findings that stop the work."""
        return tuple(f for f in self.findings if f.severity is Severity.BLOCKING)

    def count(self, severity: Severity) -> int:
        """How many findings weigh this much."""
        return sum(1 for finding in self.findings if finding.severity is severity)
