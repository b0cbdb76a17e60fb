"""
A library of claims that a shop asks of every vehicle that has what they speak of.

Each claim has its basis and whom it defers to, kept in the table ``ready_claims``. Which inputs and channels it speaks of
follows from what they mean, where they face and what their job is; a schedule that lacks them does not get the claim, and
is told what is missing.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from builds.engineering.functions.conditions import AllOf, AnyOf, Condition, InputIs, Not, OutputIs
from builds.engineering.functions.schedule import Channel, Claim, FunctionSchedule, Input
from builds.engineering.functions.vocabulary import (
    LOST,
    OFF,
    ChannelJob,
    ChannelKind,
    ClaimKind,
    Colour,
    Facing,
    OutputState,
    SignalMeaning,
)
from builds.engineering.tables.loader import load_table

__all__ = ["MODES", "ReadyClaim", "allowed_colours", "ready_claims"]

MODES = ("calling", "blocking")
COLOURS = (Colour.RED, Colour.BLUE, Colour.YELLOW, Colour.WHITE)
SIDES = (Facing.FRONT, Facing.RIGHT, Facing.REAR, Facing.LEFT)

_ASKED_BY = {
    ChannelJob.STOP_LAMP: SignalMeaning.BRAKE,
    ChannelJob.TURN_LEFT_LAMP: SignalMeaning.TURN_LEFT,
    ChannelJob.TURN_RIGHT_LAMP: SignalMeaning.TURN_RIGHT,
    ChannelJob.REVERSE_LAMP: SignalMeaning.REVERSE,
    ChannelJob.TAIL_LAMP: SignalMeaning.HEADLAMPS,
    ChannelJob.HEADLAMP: SignalMeaning.HEADLAMPS,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyClaim:
    """
    One entry of the library for one schedule: its claims, or what the schedule lacks.

    ``status`` says how far its basis can be relied on, in the words of the tables.
    """

    key: str
    title: str
    basis: str
    defers_to: str
    status: str
    claims: tuple[Claim, ...]
    missing: str = ""


def ready_claims(
    schedule: FunctionSchedule, *, calling: Condition | None = None, blocking: Condition | None = None
) -> tuple[ReadyClaim, ...]:
    """
    Return the library for a schedule.

    Parameters
    ----------
    schedule : FunctionSchedule
        Whose inputs and channels the claims speak of.
    calling, blocking : Condition, optional
        When warning lights ask for the way, and when they protect a scene. Left out, a vehicle calls while it is not in
        park and blocks while it is.

    Returns
    -------
    tuple of ReadyClaim
        Every entry of the table, in its order.
    """
    parts = _Parts(schedule)
    park = parts.reads(SignalMeaning.PARK)
    modes = {"calling": calling or (Not(term=park) if park else None), "blocking": blocking or park}
    makers: Mapping[str, Callable[[], tuple[list[Claim], str]]] = {
        "stop-lamps-steady": lambda: _stop_lamps(parts),
        "required-lamps-free": lambda: _required_lamps(parts),
        "one-arrow": lambda: _arrows(parts),
        "no-white-behind": lambda: _white_behind(parts),
        "colours-calling": lambda: _colours(parts, "calling", modes["calling"]),
        "colours-blocking": lambda: _colours(parts, "blocking", modes["blocking"]),
        "never-drivable-keyless": lambda: _keyless(parts),
    }
    return tuple(_entry(row, makers[row["claim"]]) for row in load_table("ready_claims").rows)


def _entry(row: Mapping[str, str], make: Callable[[], tuple[list[Claim], str]]) -> ReadyClaim:
    claims, missing = make()
    said = {"basis": row["basis"], "defers_to": row["defers_to"]}
    named = tuple(
        Claim(
            key=row["claim"] if len(claims) == 1 else f"{row['claim']} {number}",
            kind=claim.kind,
            condition=claim.condition,
            then=claim.then,
            **said,
        )
        for number, claim in enumerate(claims, start=1)
    )
    return ReadyClaim(key=row["claim"], title=row["title"], status=row["status"], claims=named, missing=missing, **said)


class _Parts:
    """Inputs by what they mean, channels by what they are."""

    def __init__(self, schedule: FunctionSchedule) -> None:
        self.channels = schedule.channels
        self.inputs = schedule.inputs

    def meaning(self, meaning: SignalMeaning) -> Input | None:
        return next((part for part in self.inputs if part.means is meaning), None)

    def reads(self, meaning: SignalMeaning) -> InputIs | None:
        part, gear = self.meaning(meaning), self.meaning(SignalMeaning.GEAR)
        if part is None and gear is not None and meaning.value in gear.positions:
            return InputIs(input=gear.key, values=(meaning.value,))
        return None if part is None else InputIs(input=part.key)

    def lamps(self, wanted: Callable[[Channel], bool]) -> list[Channel]:
        return [channel for channel in self.channels if channel.kind is ChannelKind.LAMP and wanted(channel)]


def _claim(kind: ClaimKind, condition: Condition, then: Condition | None = None) -> Claim:
    return Claim(key="ready", kind=kind, condition=condition, then=then)


def _state(channel: Channel, state: OutputState, *, negated: bool = False) -> OutputIs:
    return OutputIs(target=channel.key, state=state, negated=negated)


def _every(terms: Iterable[Condition]) -> Condition:
    made = tuple(terms)
    return made[0] if len(made) == 1 else AllOf(terms=made)


def _some(terms: Iterable[Condition]) -> Condition:
    made = tuple(terms)
    return made[0] if len(made) == 1 else AnyOf(terms=made)


def _fully_on(channel: Channel) -> Condition:
    """Steady at full level: what flashes or is dimmed holds nothing and is no stop lamp."""
    return AllOf(terms=(_state(channel, OutputState.STEADY), _state(channel, OutputState.DIMMED, negated=True)))


def _stop_lamps(parts: _Parts) -> tuple[list[Claim], str]:
    """While the brake is on, a stop lamp is left to the vehicle or lit steadily and fully."""
    brake, lamps = parts.reads(SignalMeaning.BRAKE), parts.lamps(lambda one: one.job is ChannelJob.STOP_LAMP)
    if brake is None or not lamps:
        return [], "a brake signal and a channel with the job stop-lamp"
    steady = (AnyOf(terms=(_state(lamp, OutputState.DRIVEN, negated=True), _fully_on(lamp))) for lamp in lamps)
    return [_claim(ClaimKind.WHENEVER, brake, _every(steady))], ""


def _required_lamps(parts: _Parts) -> tuple[list[Claim], str]:
    """While the vehicle asks for a required lamp, no rule drives it."""
    claims = []
    for job, meaning in _ASKED_BY.items():
        asked, lamps = parts.reads(meaning), parts.lamps(lambda one, job=job: one.job is job)  # type: ignore[misc]
        if asked is not None and lamps and job is not ChannelJob.STOP_LAMP:
            free = _every(_state(lamp, OutputState.DRIVEN, negated=True) for lamp in lamps)
            claims.append(_claim(ClaimKind.WHENEVER, asked, free))
    return claims, "" if claims else "a required lamp with the signal that asks for it"


def _arrows(parts: _Parts) -> tuple[list[Claim], str]:
    """Channels of different arrows are never lit together."""
    jobs = (ChannelJob.DIRECTOR_LEFT, ChannelJob.DIRECTOR_RIGHT, ChannelJob.DIRECTOR_CENTRE)
    arrows = [[one for one in parts.channels if one.job is job] for job in jobs]
    lit = [_some(_state(one, OutputState.LIT) for one in arrow) for arrow in arrows if arrow]
    pairs = [(one, other) for place, one in enumerate(lit) for other in lit[place + 1 :]]
    if not pairs:
        return [], "channels with the jobs director-left and director-right"
    return [_claim(ClaimKind.NEVER, AllOf(terms=pair)) for pair in pairs], ""


def _white_behind(parts: _Parts) -> tuple[list[Claim], str]:
    """Moving forward: by the speed signal, not in reverse; while it is lost, by not being in park or reverse."""
    lamps = parts.lamps(lambda one: one.facing is Facing.REAR and one.colour is Colour.WHITE)
    lamps = [lamp for lamp in lamps if lamp.job is not ChannelJob.REVERSE_LAMP]
    moving = list(_moving_forward(parts))
    if not lamps or not moving:
        return [], "a white lamp that faces the rear, and a speed signal or the gear"
    dark = _every(_state(lamp, OutputState.OFF) for lamp in lamps)
    return [_claim(ClaimKind.WHENEVER, condition, dark) for condition in moving], ""


def _moving_forward(parts: _Parts) -> Iterator[Condition]:
    speed = parts.reads(SignalMeaning.SPEED_ABOVE)
    not_reverse, forward = _gear(parts)
    if speed is not None:
        yield _every((speed, *not_reverse))
    if forward:
        unknown = [InputIs(input=speed.input, values=(LOST,))] if speed is not None else []
        yield _every((*unknown, *forward))


def _gear(parts: _Parts) -> tuple[list[InputIs], list[InputIs]]:
    """Where the gear is not known to be reverse, and where it is known to be neither park nor reverse."""
    gear = parts.meaning(SignalMeaning.GEAR)
    if gear is not None:
        other = tuple(value for value in gear.stands if value not in ("park", "reverse"))
        return [InputIs(input=gear.key, values=(*(one for one in gear.values if one != "reverse"),))], [
            InputIs(input=gear.key, values=other)
        ]
    park, reverse = (parts.meaning(meaning) for meaning in (SignalMeaning.PARK, SignalMeaning.REVERSE))
    not_reverse = [InputIs(input=reverse.key, values=(OFF, LOST))] if reverse is not None else []
    if park is None or reverse is None:
        return not_reverse, []
    return not_reverse, [InputIs(input=part.key, values=(OFF,)) for part in (park, reverse)]


@cache
def allowed_colours() -> Mapping[tuple[str, Colour, Facing], bool]:
    """Return for each mode, colour and side whether warning light of that colour may show there."""
    return {
        (row["mode"], Colour(row["colour"]), side): row[side.value] == "yes"
        for row in load_table("warning_colours").rows
        for side in SIDES
    }


def _colours(parts: _Parts, mode: str, condition: Condition | None) -> tuple[list[Claim], str]:
    """In a mode no flashing lamp shows a colour to a side where the table does not allow it."""
    if condition is None:
        return [], "a park signal, or the condition of the mode"
    allowed = allowed_colours()
    lamps = parts.lamps(lambda one: not allowed.get((mode, one.colour, one.facing), True))
    if not lamps:
        return [], "a lamp of a colour and side that the mode does not allow: nothing to prove"
    dark = _every(_state(lamp, OutputState.FLASHING, negated=True) for lamp in lamps)
    return [_claim(ClaimKind.WHENEVER, condition, dark)], ""


def _keyless(parts: _Parts) -> tuple[list[Claim], str]:
    """While the engine runs and the key is out, or cannot be told, every drive inhibit holds, steadily and fully."""
    key, running = parts.meaning(SignalMeaning.KEY_PRESENT), parts.reads(SignalMeaning.ENGINE_RUNNING)
    locks = [one for one in parts.channels if one.job is ChannelJob.DRIVE_INHIBIT]
    if key is None or running is None or not locks:
        return [], "key and engine signals and a channel with the job drive-inhibit"
    out = InputIs(input=key.key, values=(OFF, LOST))
    held = _every(map(_fully_on, locks))
    return [_claim(ClaimKind.WHENEVER, AllOf(terms=(running, out)), held)], ""
