"""The one thing that moves a build from stage to stage, and the guards it asks first."""

from collections.abc import Callable
from datetime import datetime

from django.db import transaction

from builds.errors import BadInput, GuardRefused
from builds.models import Build, PacketIssue, Person, Revision, Stage, StageChange
from builds.models.build import HoldReason
from builds.models.floor import StepResult
from builds.models.stage import GUARDS, TRANSITIONS
from builds.permissions import Action, check_may
from builds.selectors.kept_designs import working_design
from builds.selectors.registers import serial_count, serial_lines
from builds.selectors.released_design import is_as_released
from builds.services.actors import act_as
from builds.services.assessments import assess_build
from builds.services.overrides import open_blocking
from builds.services.reservations import shortages
from builds.services.revisions import newest_revision

__all__ = ["lift_hold", "missing_guards", "move", "next_stages", "set_hold"]


def move(*, build: Build, to: Stage, by: Person, at: datetime, note: str = "") -> StageChange:
    """
    Move a build to another stage.

    ``note`` is the reason, the invoice number for closing, or what stays open of the steps or serials, where the table asks for one.

    Raises
    ------
    GuardRefused
        If there is no such move from where the build stands, or something it asks is not true yet; names all of it.
    """
    check_may(by, _action_for(to))
    with transaction.atomic():
        act_as(by)
        locked = Build.objects.select_for_update().get(pk=build.pk)
        missing = missing_guards(locked, to, note=note)
        if missing:
            raise GuardRefused(" ".join(GUARDS.get(guard, guard) for guard in missing), missing=missing)
        change = StageChange.objects.create(
            build=locked, from_stage=locked.stage, to_stage=to, note=note.strip()[:200], by=by, at=at
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


def missing_guards(build: Build, to: Stage, *, note: str = "") -> tuple[str, ...]:
    """Return what a move asks that is not true yet, by guard id; a move not in the table answers "no-such-move"."""
    guards = TRANSITIONS.get((Stage(build.stage), to))
    if guards is None:
        return (f"A build cannot go from {Stage(build.stage).label.lower()} to {to.label.lower()}.",)
    if build.on_hold and to is not Stage.CANCELLED:
        return (f"The build is on hold: it {HoldReason(build.hold_reason).label}. Lift the hold first.",)
    return tuple(guard for guard in guards if not _CHECKS[guard](build, note))


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


def _authorised(build: Build, note: str) -> bool:
    revision = _newest(build)
    return revision is not None and revision.authorisations.exists()


def _design_released(build: Build, note: str) -> bool:
    revision = _newest(build)
    return revision is not None and is_as_released(working_design(build), revision)


def _steps_passed(build: Build, note: str) -> bool:
    steps = build.steps.filter(retired=False)
    done = [StepResult.PASS, StepResult.NOT_APPLICABLE]
    return (
        steps.exists()
        and not steps.exclude(result__in=done).exists()
        and not (steps.filter(is_hold_point=True).exclude(result=StepResult.PASS).exists())
    )


def _steps_done(build: Build, note: str) -> bool:
    """Hold points apart, which the final check is there for: all done, or what stays open is named."""
    steps = build.steps.filter(retired=False, is_hold_point=False)
    open_steps = steps.exclude(result__in=[StepResult.PASS, StepResult.NOT_APPLICABLE])
    return build.steps.filter(retired=False).exists() and (bool(note.strip()) or not open_steps.exists())


def _newest_packet(build: Build) -> PacketIssue | None:
    """The newest packet of the newest revision that is rendered: the only one whose signature counts."""
    revision = _newest(build)
    if revision is None:
        return None
    last = build.packets.exclude(state__in=[PacketIssue.State.FAILED, PacketIssue.State.CANCELLED]).last()
    ready = last is not None and last.state == PacketIssue.State.READY and last.revision_id == revision.pk
    return last if ready else None


def _packet_signed(build: Build, note: str) -> bool:
    packet = _newest_packet(build)
    return (
        packet is not None
        and packet.file is not None
        and packet.acceptances.filter(file_sha256=packet.file.sha256).exists()
    )


_CHECKS: dict[str, Callable[[Build, str], bool]] = {
    "revision-released": lambda build, note: _newest(build) is not None,
    "revision-authorised": _authorised,
    "no-open-blocking": lambda build, note: not open_blocking(build, assess_build(build)),
    "parts-reserved": lambda build, note: not shortages(build),
    "steps-made": lambda build, note: build.steps.filter(retired=False).exists(),
    "steps-done": _steps_done,
    "steps-passed": _steps_passed,
    "serials-recorded": lambda build, note: bool(note.strip()) or not serial_count(serial_lines(build)).missing,
    "packet-ready": lambda build, note: _newest_packet(build) is not None,
    "design-released": _design_released,
    "packet-signed": _packet_signed,
    "invoice-or-reason": lambda build, note: bool(note.strip()),
    "reason-given": lambda build, note: bool(note.strip()),
}
