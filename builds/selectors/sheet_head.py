"""The head of a build's sheet: where it stands, what is next, and the words of its cells."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Max

from builds.models import Booking, Build, BuildMatch, HoldReason, Stage
from builds.selectors.build_sheet import Sheet
from builds.selectors.packet_signed import packet_signed
from builds.selectors.standing import Standing, StandingInput, standing_of

__all__ = ["SheetHead", "build_standing", "head_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetHead:
    """
    What the title block says beside the build's own columns; ``act`` names the next thing to do, if there is one.

    It is done at a section of the sheet, ``act_anchor``, or on a page of its own, whose route ``act_route`` names.
    """

    standing: Standing
    stage: str
    hold_words: str
    since: str
    revision: str
    letter: str
    authorised: str
    promised: str
    act_word: str
    act_anchor: str
    act_route: str


def build_standing(
    build: Build, match: BuildMatch, *, released: bool, signed: bool, today: date, ends_on: date | None
) -> Standing:
    """Return how a build stands, its match at hand."""
    return standing_of(
        StandingInput(
            stage=build.stage, today=today, promised_on=build.promised_on, plan_ends_on=ends_on, hold_reason=build.hold_reason,
            hold_who_acts=build.hold_who_acts, hold_note=build.hold_note, blocking_count=build.blocking_count,
            step_count=build.step_count, step_done_count=build.step_done_count,
            responsible=str(build.responsible) if build.responsible else "", vehicle_here=match.vehicle_here,
            parts_here=match.parts_here, gear_here=match.gear_here, released=released, signed=signed,
        )
    )  # fmt: skip


def head_of(sheet: Sheet, *, at: datetime) -> SheetHead:
    """Return the head of a sheet at a moment."""
    build = sheet.build
    match = BuildMatch.objects.get(build=build)
    plan_end = Booking.objects.filter(build=build).aggregate(until=Max("during__endswith"))["until"]
    last = build.stage_changes.order_by("-at", "-pk").values_list("at", flat=True).first()
    signed = Build.objects.filter(packet_signed(), pk=build.pk).exists()
    word, anchor, route = _next_act(sheet, signed=signed)
    return SheetHead(
        standing=build_standing(
            build,
            match,
            released=sheet.newest is not None,
            signed=signed,
            today=at.astimezone(sheet.zone).date(),
            ends_on=plan_end.astimezone(sheet.zone).date() if plan_end else None,
        ),
        stage=build.stage,
        hold_words=HoldReason(build.hold_reason).label if build.hold_reason else "",
        since=f"since {last.astimezone(sheet.zone):%a %-d %b}" if last else "",
        revision=_revision_words(sheet),
        letter=sheet.newest.letter if sheet.newest else "",
        authorised=sheet.authorised.revision.letter if sheet.authorised else "",
        promised=f"{build.promised_on:%a %-d %b}" if build.promised_on else "not promised",
        act_word=word,
        act_anchor=anchor,
        act_route=route,
    )


def _revision_words(sheet: Sheet) -> str:
    if sheet.newest is None:
        return "none released yet"
    count = sheet.change_count
    return (
        f"{sheet.newest.letter} + {count} change{'' if count == 1 else 's'}, not released"
        if count
        else sheet.newest.letter
    )


def _next_act(sheet: Sheet, *, signed: bool) -> tuple[str, str, str]:
    """Return the word of the one filled button, the section it leads to and the page; none once the build is done."""
    build = sheet.build
    if build.stage in (Stage.CLOSED, Stage.CANCELLED):
        return "", "", ""
    if build.on_hold:
        return "Lift the hold", "changes", ""
    if sheet.newest is None:
        return "Release revision A", "changes", ""
    if sheet.change_count and build.stage != Stage.DELIVERED:
        return "Release the changes", "changes", ""
    if build.stage == Stage.READY:
        return ("Hand over", "", "build-stages") if signed else ("Get it signed", "links-title", "packet")
    return _NEXT.get(Stage(build.stage), ("", "", ""))


_NEXT = {
    Stage.INTAKE: ("Send the quote", "changes", ""),
    Stage.QUOTED: ("Record the authorisation", "changes", ""),
    Stage.APPROVED: ("Start the work", "changes", ""),
    Stage.IN_WORK: ("Open the checklist", "checklist", ""),
    Stage.FINAL_CHECK: ("Issue the packet", "", "packet"),
    Stage.DELIVERED: ("Close the build", "", "build-stages"),
}
