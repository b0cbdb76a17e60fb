"""The one thing that moves a build from stage to stage, and the guards it asks first."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime

from django.db import transaction

from builds.errors import BadInput, GuardRefused
from builds.models import Build, PacketIssue, Person, Revision, Stage, StageChange
from builds.models.build import HoldReason
from builds.models.floor import ChecklistStep, StepResult
from builds.models.stage import GUARDS, TRANSITIONS
from builds.permissions import Action, check_may
from builds.selectors.kept_designs import working_design
from builds.selectors.open_steps import named_open, open_steps, why_step_never_open
from builds.selectors.registers import serial_count, serial_lines
from builds.selectors.released_design import is_as_released
from builds.services.actors import act_as
from builds.services.assessments import assess_build
from builds.services.overrides import open_blocking
from builds.services.reservations import shortages
from builds.services.revisions import newest_revision

__all__ = ["OpenItem", "lift_hold", "missing_guards", "move", "next_stages", "set_hold"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenItem:
    """A step that stays open for the customer to sign: the step's key, what is missing, why, who comes back and by when."""

    step: str
    part: str
    reason: str
    who_returns: str
    by_when: date

    def missing(self, at: datetime) -> dict[str, str]:
        """Return what is wrong with it, by field."""
        named = {"part": self.part, "reason": self.reason, "who_returns": self.who_returns}
        found = {name: "This may not stay empty." for name, text in named.items() if not text.strip()}
        found |= {name: "Use at most 120 letters." for name, text in named.items() if len(text.strip()) > 120}
        if self.by_when < at.date():
            found["by_when"] = "Name a day that is still to come."
        return found

    @property
    def kept(self) -> dict[str, str]:
        """As the move keeps it."""
        return {name: str(value).strip() for name, value in asdict(self).items()}


def move(
    *, build: Build, to: Stage, by: Person, at: datetime, note: str = "", open_items: Sequence[OpenItem] = ()
) -> StageChange:
    """
    Move a build to another stage.

    ``note`` is the reason, the invoice number for closing, or what stays open of the serials, where the table asks for
    one; ``open_items`` are the steps that stay open over the final check.

    Raises
    ------
    BadInput
        If an open item lacks something.
    GuardRefused
        If there is no such move from where the build stands, or something it asks is not true yet; names all of it.
    """
    check_may(by, _action_for(to))
    wrong = {f"{item.step} {name}": words for item in open_items for name, words in item.missing(at).items()}
    if wrong:
        raise BadInput(wrong)
    with transaction.atomic():
        act_as(by)
        locked = Build.objects.select_for_update().get(pk=build.pk)
        missing = missing_guards(locked, to, note=note, named=[item.step for item in open_items])
        if missing:
            raise GuardRefused(" ".join(GUARDS.get(guard, guard) for guard in missing), missing=missing)
        change = StageChange.objects.create(
            build=locked,
            from_stage=locked.stage,
            to_stage=to,
            note=note.strip()[:200],
            by=by,
            at=at,
            open_items=[item.kept for item in open_items] if to is Stage.FINAL_CHECK else [],
        )
        locked.stage = to
        if to is Stage.CLOSED:
            locked.invoice_number = note.strip()[:60]
        locked.row_version += 1
        locked.save(update_fields=["stage", "invoice_number", "row_version"])
    build.stage = locked.stage
    return change


def next_stages(build: Build) -> tuple[Stage, ...]:
    """Return where a build can go from where it stands, in the table's order."""
    return tuple(to for (from_stage, to) in TRANSITIONS if from_stage == build.stage)


def missing_guards(build: Build, to: Stage, *, note: str = "", named: Iterable[str] = ()) -> tuple[str, ...]:
    """
    Return what a move asks that is not true yet, by guard id; a move not in the table answers "no-such-move".

    ``named`` are the keys of the steps that are named as open with this move.
    """
    guards = TRANSITIONS.get((Stage(build.stage), to))
    if guards is None:
        return (f"A build cannot go from {Stage(build.stage).label.lower()} to {to.label.lower()}.",)
    if build.on_hold and to is not Stage.CANCELLED:
        return (f"The build is on hold: it {HoldReason(build.hold_reason).label}. Lift the hold first.",)
    asked = _Asked(note.strip(), frozenset(named))
    return tuple(guard for guard in guards if not _CHECKS[guard](build, asked))


@dataclass(frozen=True, slots=True)
class _Asked:
    """What came with a move: its note, and the steps named as open."""

    note: str
    named: frozenset[str]


def set_hold(*, build: Build, reason: str, who_acts: str, note: str, by: Person, at: datetime) -> StageChange:
    """Stop a build, naming why and who must act. Raises BadInput."""
    fields = {}
    if reason not in HoldReason.values:
        fields["reason"] = "Choose why it stands still."
    if not who_acts.strip():
        fields["who_acts"] = "Name who must act."
    if fields:
        raise BadInput(fields)
    return _set_hold(build, reason, who_acts.strip()[:80], note.strip()[:200], by, at)


def lift_hold(*, build: Build, note: str, by: Person, at: datetime) -> StageChange:
    """Let a build go on. Raises GuardRefused where it is not on hold."""
    if not build.on_hold:
        raise GuardRefused("This build is not on hold.", missing=("on-hold",))
    return _set_hold(build, "", "", note.strip()[:200], by, at)


def _set_hold(build: Build, reason: str, who_acts: str, note: str, by: Person, at: datetime) -> StageChange:
    check_may(by, Action.SET_HOLD)
    with transaction.atomic():
        act_as(by)
        locked = Build.objects.select_for_update().get(pk=build.pk)
        locked.hold_reason, locked.hold_who_acts, locked.hold_note = reason, who_acts, note if reason else ""
        locked.row_version += 1
        locked.save(update_fields=["hold_reason", "hold_who_acts", "hold_note", "row_version"])
        change = StageChange.objects.create(
            build=locked, from_stage=locked.stage, to_stage=locked.stage, hold_reason=reason,
            note=note or ("" if reason else "hold lifted"), by=by, at=at,
        )  # fmt: skip
    build.hold_reason, build.hold_who_acts, build.hold_note = reason, who_acts, locked.hold_note
    return change


def _action_for(to: Stage) -> Action:
    return {Stage.CANCELLED: Action.CANCEL_BUILD, Stage.CLOSED: Action.CLOSE_BUILD}.get(to, Action.MOVE_STAGE)


def _newest(build: Build) -> Revision | None:
    return newest_revision(build)


def _authorised(build: Build, asked: _Asked) -> bool:
    revision = _newest(build)
    return revision is not None and revision.authorisations.exists()


def _design_released(build: Build, asked: _Asked) -> bool:
    revision = _newest(build)
    return revision is not None and is_as_released(working_design(build), revision)


def _steps_passed(build: Build, asked: _Asked) -> bool:
    steps = build.steps.filter(retired=False)
    return (
        steps.exists()
        and _all_named(open_steps(build), named_open(build))
        and not (steps.filter(is_hold_point=True).exclude(result=StepResult.PASS).exists())
    )


def _steps_done(build: Build, asked: _Asked) -> bool:
    """Hold points apart, which the final check is there for: all done, or each that stays open is named."""
    return build.steps.filter(retired=False).exists() and _all_named(open_steps(build), asked.named)


def _all_named(steps: Iterable[ChecklistStep], named: Iterable[str]) -> bool:
    """Whether each open step is one that may stay open and was named."""
    keys = set(named)
    return all(step.key in keys and not why_step_never_open(step) for step in steps)


def _newest_packet(build: Build) -> PacketIssue | None:
    """The newest packet of the newest revision that is rendered: the only one whose signature counts."""
    revision = _newest(build)
    if revision is None:
        return None
    last = build.packets.exclude(state__in=[PacketIssue.State.FAILED, PacketIssue.State.CANCELLED]).last()
    ready = last is not None and last.state == PacketIssue.State.READY and last.revision_id == revision.pk
    return last if ready else None


def _packet_signed(build: Build, asked: _Asked) -> bool:
    packet = _newest_packet(build)
    return (
        packet is not None
        and packet.file is not None
        and packet.acceptances.filter(file_sha256=packet.file.sha256).exists()
    )


_CHECKS: dict[str, Callable[[Build, _Asked], bool]] = {
    "revision-released": lambda build, asked: _newest(build) is not None,
    "revision-authorised": _authorised,
    "no-open-blocking": lambda build, asked: not open_blocking(build, assess_build(build)),
    "parts-reserved": lambda build, asked: not shortages(build),
    "steps-made": lambda build, asked: build.steps.filter(retired=False).exists(),
    "steps-done": _steps_done,
    "steps-passed": _steps_passed,
    "serials-recorded": lambda build, asked: bool(asked.note) or not serial_count(serial_lines(build)).missing,
    "packet-ready": lambda build, asked: _newest_packet(build) is not None,
    "design-released": _design_released,
    "packet-signed": _packet_signed,
    "invoice-or-reason": lambda build, asked: bool(asked.note),
    "reason-given": lambda build, asked: bool(asked.note),
}
