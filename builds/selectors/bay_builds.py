"""What a board says of each build: how it stands, what it waits for, how far it is, who works on it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Count, Max, Q

from builds.drawings.progress import PhaseCount
from builds.engineering.vocabulary import Phase
from builds.models import Booking, Build, ChecklistStep, HoldReason, Revision, StepResult, TimeEntry
from builds.selectors.match import Match, matches_of
from builds.selectors.packet_signed import packet_signed
from builds.selectors.standing import PLANNED_STAGES, Standing, StandingInput, standing_of

__all__ = ["BoardBuild", "board_builds"]

_DONE = (StepResult.PASS, StepResult.NOT_APPLICABLE)
_PEOPLE_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardBuild:
    """One build as the board shows it; ``reasons`` say in words why it is late or may become so."""

    build: Build
    match: Match
    standing: Standing
    phases: tuple[PhaseCount, ...]
    people: tuple[str, ...]
    reasons: tuple[str, ...]
    planned_until: datetime | None

    @property
    def name(self) -> str:
        """Whose it is and what it is."""
        unit = f", {self.build.vehicle.unit_number}" if self.build.vehicle.unit_number else ""
        return f"{self.build.customer.name}{unit}"

    @property
    def phase(self) -> str:
        """The phase that is worked on: the first with a step to do."""
        return next((phase.name.capitalize() for phase in self.phases if phase.done < phase.total), "")


def board_builds(builds: Mapping[int, Build], *, now: datetime, zone: ZoneInfo) -> dict[int, BoardBuild]:
    """Return every build by its key, in eight questions however many there are."""
    matches = matches_of(builds.values())
    phases = _phases(builds)
    defective = _defective(builds)
    people = _people(builds, now)
    until = _planned_until(builds)
    released = set(Revision.objects.filter(build__in=builds).values_list("build_id", flat=True))
    signed = set(Build.objects.filter(packet_signed(), pk__in=builds).values_list("pk", flat=True))
    today = now.astimezone(zone).date()
    return {
        pk: _board_build(
            build,
            matches[pk],
            phases[pk],
            people[pk],
            defective.get(pk, 0),
            until.get(pk),
            pk in released,
            pk in signed,
            today,
            zone,
        )
        for pk, build in builds.items()
    }


def _board_build(
    build: Build, match: Match, phases: tuple[PhaseCount, ...], people: tuple[str, ...], defective: int,
    until: datetime | None, released: bool, signed: bool, today: date, zone: ZoneInfo,
) -> BoardBuild:  # fmt: skip
    ends_on = until.astimezone(zone).date() if until else None
    return BoardBuild(
        build=build, match=match, standing=standing_of(_standing_input(build, match, released, signed, today, ends_on)),
        phases=phases, people=people, planned_until=until, reasons=tuple(_reasons(build, match, defective, ends_on)),
    )  # fmt: skip


def _reasons(build: Build, match: Match, defective: int, ends_on: date | None) -> Iterable[str]:
    if build.hold_reason:
        note = f", {build.hold_note}" if build.hold_note else ""
        yield f"It {HoldReason(build.hold_reason).label}{note}. {build.hold_who_acts} acts."
    yield from match.words
    if defective:
        yield f"{defective} step{' is' if defective == 1 else 's are'} defective."
    if build.blocking_count:
        yield f"{build.blocking_count} blocking finding{'' if build.blocking_count == 1 else 's'} in the design."
    if ends_on and build.promised_on and ends_on > build.promised_on and build.stage in PLANNED_STAGES:
        yield f"The plan ends {ends_on:%a %-d}, promised {build.promised_on:%a %-d}."
    left = build.step_count - build.step_done_count
    if left:
        yield f"{left} of {build.step_count} steps to do."


def _standing_input(
    build: Build, match: Match, released: bool, signed: bool, today: date, ends_on: date | None
) -> StandingInput:
    return StandingInput(
        stage=build.stage, today=today, promised_on=build.promised_on, plan_ends_on=ends_on, hold_reason=build.hold_reason,
        hold_who_acts=build.hold_who_acts, hold_note=build.hold_note, blocking_count=build.blocking_count,
        step_count=build.step_count, step_done_count=build.step_done_count,
        responsible=str(build.responsible) if build.responsible else "", vehicle_here=match.vehicle,
        parts_here=match.parts, gear_here=match.gear, released=released, signed=signed,
    )  # fmt: skip


def _phases(builds: Iterable[int]) -> dict[int, tuple[PhaseCount, ...]]:
    rows = (
        ChecklistStep.objects.filter(build__in=builds, retired=False)
        .order_by()
        .values("build_id", "phase")
        .annotate(total=Count("pk"), done=Count("pk", filter=Q(result__in=_DONE)))
    )
    found: dict[int, dict[str, PhaseCount]] = defaultdict(dict)
    for row in rows:
        found[row["build_id"]][row["phase"]] = PhaseCount(name=row["phase"], done=row["done"], total=row["total"])
    return defaultdict(
        tuple, {pk: tuple(counts[phase] for phase in Phase if phase in counts) for pk, counts in found.items()}
    )


def _defective(builds: Iterable[int]) -> dict[int, int]:
    steps = ChecklistStep.objects.filter(build__in=builds, retired=False, result=StepResult.DEFECTIVE).order_by()
    return dict(steps.values("build_id").annotate(count=Count("pk")).values_list("build_id", "count"))


def _people(builds: Iterable[int], now: datetime) -> dict[int, tuple[str, ...]]:
    """Who clocked time on a build in the last days, those on the clock first."""
    entries = TimeEntry.objects.filter(build__in=builds).filter(
        Q(ended_at__isnull=True) | Q(ended_at__gte=now - timedelta(days=_PEOPLE_DAYS))
    )
    found: dict[int, dict[str, None]] = defaultdict(dict)
    for entry in entries.select_related("person").order_by("-ended_at"):
        found[entry.build_id].setdefault(str(entry.person))
    return defaultdict(tuple, {pk: tuple(names) for pk, names in found.items()})


def _planned_until(builds: Iterable[int]) -> dict[int, datetime]:
    """Until when the plan keeps each build in a bay."""
    ends = (
        Booking.objects.filter(build__in=builds).order_by().values("build_id").annotate(until=Max("during__endswith"))
    )
    return dict(ends.values_list("build_id", "until"))
