"""What the checklist pages show: every step with its newest tick, where the build is, who may sign what."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import connection
from django.db.models import Count, Q

from builds.drawings.progress import PhaseCount
from builds.engineering.load_readings import calculated_at_a
from builds.engineering.vocabulary import HoldSigner, Phase
from builds.models import Build, ChecklistStep, HoldSignature, LocationEvent, Person, Photo, StepResult, Tick
from builds.selectors.kept_designs import working_design
from builds.selectors.readings import ReadingVerdict, judge, shown

__all__ = [
    "SIGNED_AS",
    "Checklist",
    "PhaseSteps",
    "StepLine",
    "TickLine",
    "checklist_of",
    "find_build",
    "find_step",
    "had_a_hand",
    "photos_of_step",
    "place_words",
    "revision_words",
    "signatures_of",
    "ticks_of_step",
]

_DONE = (StepResult.PASS, StepResult.NOT_APPLICABLE)
_BUILT_IN = (Phase.MOUNT, Phase.WIRE)  # the phases whose work a test looks at

# How a signature is printed: what was done, in no better words than that.
SIGNED_AS: dict[HoldSigner, str] = {
    HoldSigner.INSPECTOR: "signed by an inspector who had no hand in the work",
    HoldSigner.OTHER_TECHNICIAN: "signed by another technician",
    HoldSigner.SELF_AFTER_NIGHT: "self-checked after at least one night",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLine:
    """One step on the list: its number, its state as a shape's name with its word, and what was found."""

    number: int
    step: ChecklistStep
    state: str
    word: str
    found: str

    @property
    def done(self) -> bool:
        """Whether nothing is left to do at this step."""
        return self.step.result in _DONE


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseSteps:
    """The steps of one phase, in working order."""

    name: str
    lines: tuple[StepLine, ...]

    @property
    def done(self) -> int:
        """How many are done."""
        return sum(line.done for line in self.lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class Checklist:
    """All live steps of a build by phase."""

    phases: tuple[PhaseSteps, ...]

    @property
    def lines(self) -> tuple[StepLine, ...]:
        """Every step in working order."""
        return tuple(line for phase in self.phases for line in phase.lines)

    @property
    def done(self) -> int:
        """How many steps are done."""
        return sum(phase.done for phase in self.phases)

    def next_open(self, after: int = 0) -> StepLine | None:
        """Return the first step still to do behind number ``after``, else the first of all, else nothing."""
        waiting = [line for line in self.lines if not line.done]
        return next((line for line in waiting if line.number > after), waiting[0] if waiting else None)

    def line_of(self, step: ChecklistStep) -> StepLine | None:
        """Return the line of ``step``; ``None`` for a retired one."""
        return next((line for line in self.lines if line.step.pk == step.pk), None)

    def open_before(self, step: ChecklistStep) -> tuple[StepLine, ...]:
        """Return the mounting and wiring that is still open where a test is at hand: what it reads is not finished yet."""
        if step.phase != Phase.TEST:
            return ()
        return tuple(
            line
            for line in self.lines
            if line.step.phase in _BUILT_IN and not line.done and not line.step.is_hold_point
        )

    def ruler(self, present: StepLine | None = None) -> list[PhaseCount]:
        """Return the phases as the step ruler draws them, the present step marked."""
        return [
            PhaseCount(
                name=phase.name, done=phase.done, total=len(phase.lines),
                present=phase.lines.index(present) if present in phase.lines else None,
            )
            for phase in self.phases
        ]  # fmt: skip


def checklist_of(build: Build) -> Checklist:
    """Return the checklist of a build, in four questions however long it is."""
    steps = list(build.steps.filter(retired=False).select_related("result_by"))
    newest = _newest_ticks(steps)
    waiting = _signed_or_open(steps)
    by_phase: dict[str, list[StepLine]] = {phase.value: [] for phase in Phase}
    number = 0
    for phase in Phase:
        for step in (step for step in steps if step.phase == phase.value):
            number += 1
            by_phase[phase.value].append(_line(number, step, newest.get(step.pk), waiting.get(step.pk)))
    return Checklist(
        phases=tuple(
            PhaseSteps(name=name.capitalize(), lines=tuple(lines)) for name, lines in by_phase.items() if lines
        )
    )


def _newest_ticks(steps: Sequence[ChecklistStep]) -> dict[int, Tick]:
    ticks = (
        Tick.objects.filter(step__in=steps).order_by("step_id", "-at", "-pk").distinct("step_id").select_related("by")
    )
    return {tick.step_id: tick for tick in ticks}


def _signed_or_open(steps: Sequence[ChecklistStep]) -> dict[int, int]:
    """How many covered steps each hold point still waits for."""
    holds = ChecklistStep.objects.filter(pk__in=[step.pk for step in steps if step.is_hold_point]).order_by()
    still = Q(covers__retired=False) & ~Q(covers__result__in=_DONE)
    return dict(holds.annotate(still=Count("covers", filter=still)).values_list("pk", "still"))


_STATES: dict[str, tuple[str, str]] = {
    StepResult.PASS: ("pass", "Pass"),
    StepResult.DEFECTIVE: ("defective", "Defective"),
    StepResult.NOT_APPLICABLE: ("not_applicable", "Not applicable"),
}


def _line(number: int, step: ChecklistStep, tick: Tick | None, waits_for: int | None) -> StepLine:
    if step.is_hold_point:
        return _hold_line(number, step, waits_for or 0)
    state, word = _STATES.get(step.result, ("to_do", "To do"))
    found = _found(step, tick) if step.result and tick else ""
    if not step.result and step.asks_reading:
        state, word = "not_measured", "Not measured"
    return StepLine(number=number, step=step, state=state, word=word, found=found)


def _hold_line(number: int, step: ChecklistStep, waits_for: int) -> StepLine:
    if step.result == StepResult.PASS:
        return StepLine(number=number, step=step, state="pass", word="Signed", found=f"{step.result_by}")
    if step.result == StepResult.DEFECTIVE:
        return StepLine(number=number, step=step, state="defective", word="Sent back", found=f"{step.result_by}")
    word = "Ready to sign" if not waits_for else f"Waits for {waits_for} step{'' if waits_for == 1 else 's'}"
    return StepLine(number=number, step=step, state="hold_point", word=word, found="")


def _found(step: ChecklistStep, tick: Tick) -> str:
    parts = [] if tick.reading is None else [shown(step, tick.reading)]
    if step.asks_reading and tick.reading is None:
        parts.append("not measured")
    if tick.remark:
        parts.append(tick.remark)
    return " · ".join([*parts, str(tick.by)])


@dataclass(frozen=True, slots=True, kw_only=True)
class TickLine:
    """One tick of a step, in words, and what its reading says."""

    tick: Tick
    state: str
    word: str
    reading: str
    verdict: ReadingVerdict | None
    there: str = ""  # what is calculated at the volts of the reading


def ticks_of_step(step: ChecklistStep) -> tuple[TickLine, ...]:
    """Return the ticks of a step, the newest first."""
    return tuple(_tick_line(step, tick) for tick in step.ticks.select_related("by").order_by("-at", "-pk"))


def _there(step: ChecklistStep, tick: Tick) -> str:
    """What is calculated of a condition's current at the volts at which it was read."""
    condition = step.key.removeprefix("load/")
    if tick.reading_at_v is None or condition == step.key:
        return ""
    current_a = calculated_at_a(working_design(step.build), condition, float(tick.reading_at_v))
    return "" if current_a is None else f"{current_a:.{step.reading_decimals}f} A"


def _tick_line(step: ChecklistStep, tick: Tick) -> TickLine:
    state, word = _STATES[tick.result]
    if tick.reading is None:
        return TickLine(tick=tick, state=state, word=word, reading="", verdict=None)
    return TickLine(
        tick=tick,
        state=state,
        word=word,
        reading=shown(step, tick.reading),
        verdict=judge(step, tick.reading, tick.reading_at_v),
        there=_there(step, tick),
    )


def find_step(build: Build, pk: int) -> ChecklistStep | None:
    """Return a step of this build with the build on it, or nothing."""
    step = build.steps.filter(pk=pk).select_related("result_by").first()
    if step is not None:
        step.build = build
    return step


def photos_of_step(step: ChecklistStep) -> Iterable[Photo]:
    """Return the photos of a step with their files, the newest first."""
    return step.photos.select_related("file", "by").order_by("-at", "-pk")


def signatures_of(step: ChecklistStep) -> Iterable[HoldSignature]:
    """Return what was signed at a hold point, the newest first."""
    return step.signatures.select_related("by").order_by("-at", "-pk")


def had_a_hand(hold: ChecklistStep, person: Person) -> bool:
    """
    Return whether ``person`` has a tick or a clock entry on what ``hold`` covers, as the database itself sees it.

    The same function stands behind the trigger, so the page never promises what the database refuses.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            "select bool_or(baywright_hand_in_step(step, %(person)s) is not null) from ("
            " select to_checkliststep_id as step from builds_checkliststep_covers where from_checkliststep_id = %(hold)s"
            " union all select %(hold)s) covered",
            {"person": person.pk, "hold": hold.pk},
        )
        row = cursor.fetchone()
    return bool(row and row[0])


def place_words(build: Build) -> str:
    """Return where the build's vehicle is, in a word or two."""
    event = LocationEvent.objects.filter(vehicle_id=build.vehicle_id).order_by("-at", "-pk").first()
    return event.spot if event else "Not here yet"


def revision_words(build: Build) -> str:
    """Return which revision is worked to: the newest that the customer authorised."""
    revision = build.revisions.filter(authorisations__isnull=False).order_by("-sequence").first()
    return f"revision {revision.letter}" if revision else "no authorised revision"


def find_build(number: str) -> Build | None:
    """Return a build by its number, with what every floor page names of it."""
    return Build.objects.select_related("customer", "vehicle", "profile").filter(number=number).first()
