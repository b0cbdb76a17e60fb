"""
Hold points: signed by someone who had no hand in what they cover, or in whichever other way this buyer's profile names.

The rule is kept here, with words a person understands, and once more by a trigger that no program can go around: it
refuses the signature of anyone with a tick or a clock entry on a covered step, and the tick or clock entry of anyone
who has signed.
"""

from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from builds.engineering.buyer_rules import RULES
from builds.engineering.vocabulary import HoldSigner
from builds.errors import BadInput, BuildError, GuardRefused, HandsOn, NotAllowed, NotHere, Taken
from builds.models import Build, ChecklistStep, HoldSignature, Person, Role, StepResult
from builds.permissions import Action, check_may, may
from builds.selectors.open_steps import named_open, open_steps, why_step_never_open
from builds.services.actors import act_as
from builds.services.refusals import constraint_of
from builds.services.step_results import DONE, count_steps, lock_build, set_result

__all__ = ["sign", "signer_of", "why_not"]


def signer_of(build: Build) -> HoldSigner:
    """Return who may sign a hold point of this build, by its buyer's profile."""
    rule = build.profile.rules.filter(key="hold-signer").first()
    return HoldSigner(rule.text_value if rule else str(RULES["hold-signer"].default))


def sign(
    *, step: ChecklistStep, passed: bool, basis: HoldSigner, event_id: UUID, by: Person, at: datetime, remark: str = ""
) -> HoldSignature:
    """
    Sign a hold point, or send back what it covers; the same ``event_id`` sent again answers with the first signature.

    Parameters
    ----------
    step : ChecklistStep
        The hold point.
    passed : bool
        False sends back; ``remark`` then says what.
    basis : HoldSigner
        In which way it is signed; it must be the way the buyer's profile names.
    event_id : UUID
        Made by the page or the device, once per signature.
    by, at : Person, datetime
        Who signs, and when.
    remark : str
        What was seen.

    Raises
    ------
    HandsOn
        If ``by`` has a tick or a clock entry on what it covers.
    NotAllowed
        If this buyer asks for another signer.
    GuardRefused
        If a covered step is not passed or not applicable yet.
    BadInput
        If something is sent back without a word on what is wrong, or the step is no hold point.
    """
    check_may(by, Action.SIGN_HOLD_POINT)
    with transaction.atomic():
        act_as(by)
        build = lock_build(step.build_id)
        step = ChecklistStep.objects.get(pk=step.pk)
        step.build = build
        before = HoldSignature.objects.filter(event_id=event_id).first()
        if before is not None:
            return _sent_before(before, step, passed, by)
        _check(step, passed, remark)
        _check_signer(build, basis, by)
        signature = HoldSignature(
            event_id=event_id, step=step, passed=passed, basis=basis, remark=remark.strip(), by=by, at=at
        )
        _insert(signature)
        set_result(step, StepResult.PASS if passed else StepResult.DEFECTIVE, by=by, at=at)
        count_steps(build)
    return signature


def _sent_before(before: HoldSignature, step: ChecklistStep, passed: bool, by: Person) -> HoldSignature:
    if (before.step_id, before.passed, before.by_id) != (step.pk, passed, by.pk):
        raise Taken("This signature's id already stands for another signature. Sign again.")
    return before


def _check(step: ChecklistStep, passed: bool, remark: str) -> None:
    if step.retired:
        raise NotHere("The design no longer asks for this hold point.")
    if not step.is_hold_point:
        raise BadInput({"step": "Only a hold point is signed; this step is ticked."})
    if not passed and not remark.strip():
        raise BadInput({"remark": "Say what is sent back and what is wrong with it."})
    undone = step.covers.filter(retired=False).exclude(result__in=DONE) if passed else ChecklistStep.objects.none()
    undone = undone.exclude(key__in=_left_open(step.build))
    titles = list(undone.values_list("title", flat=True))
    if titles:
        more = f" and {len(titles) - 3} more" if len(titles) > 3 else ""
        raise GuardRefused(f"Not passed yet: {', '.join(titles[:3])}{more}.", missing=("covered-steps-passed",))


def _left_open(build: Build) -> list[str]:
    """Steps that the customer will sign as open items: the signature stands for what is done, and the packet lists these."""
    named = named_open(build)
    return [step.key for step in open_steps(build).filter(key__in=named) if not why_step_never_open(step)]


def _check_signer(build: Build, basis: HoldSigner, by: Person) -> None:
    asked = signer_of(build)
    if basis != asked:
        raise NotAllowed(f"This buyer asks for another way of signing: {_WAYS[asked]}.")
    if asked is HoldSigner.INSPECTOR and by.role != Role.INSPECTOR:
        raise NotAllowed(f"This buyer asks for {_WAYS[asked]}.")


def why_not(step: ChecklistStep, person: Person, signer: HoldSigner, *, had_a_hand: bool) -> str:
    """Return why ``person`` cannot sign this hold point, in words; empty where nothing is in the way."""
    if not may(person, Action.SIGN_HOLD_POINT):
        return f"Signed by {_WAYS[signer]}."
    if signer is HoldSigner.INSPECTOR and person.role != Role.INSPECTOR:
        return f"This buyer asks for {_WAYS[signer]}."
    if had_a_hand and signer is not HoldSigner.SELF_AFTER_NIGHT:
        return "You have a tick or a clock entry on what this hold point covers. Someone else signs it."
    return ""


_WAYS = {
    HoldSigner.INSPECTOR: "an inspector who had no hand in the work",
    HoldSigner.OTHER_TECHNICIAN: "someone else than whoever did the work",
    HoldSigner.SELF_AFTER_NIGHT: "whoever did the work, after at least one night",
}


def _insert(signature: HoldSignature) -> None:
    try:
        with transaction.atomic():
            signature.save(force_insert=True)
    except IntegrityError as error:
        raise _explain(error, signature) from error


def _explain(error: IntegrityError, signature: HoldSignature) -> BuildError:
    match constraint_of(error):
        case "builds_holdsignature_four_eyes" if signature.basis == HoldSigner.SELF_AFTER_NIGHT:
            return HandsOn(
                "You worked on what this hold point covers today. Look at it again after a night, then sign."
            )
        case "builds_holdsignature_four_eyes":
            return HandsOn("You have a tick or a clock entry on what this hold point covers. Someone else signs it.")
        case "builds_holdsignature_basis_is_buyers":
            return NotAllowed(f"This buyer asks for {_WAYS[signer_of(signature.step.build)]}.")
        case name if "event_id" in name:
            return Taken("This signature's id already stands for another signature. Sign again.")
    raise error
