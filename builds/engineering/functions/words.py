"""Settings, sequences and what lamps show, as people say them."""

from collections.abc import Iterable

from builds.engineering.functions.appearances import DARK, FOLLOWS_VEHICLE, Appearance
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.evaluate import Outcome
from builds.engineering.functions.printing import print_duration, print_name, print_title
from builds.engineering.functions.reachable import Trace
from builds.engineering.functions.schedule import FunctionSchedule, GatewaySource, Input, WireSource
from builds.engineering.functions.settings import AT_REST, Setting
from builds.engineering.functions.vocabulary import LOST, OFF, ON, ChannelKind, InputKind, SignalMeaning

__all__ = [
    "act_words",
    "changes_words",
    "figure_words",
    "listed",
    "outcome_words",
    "setting_words",
    "shown_words",
    "still_word",
    "trace_sentence",
    "trace_words",
]

_STILL = {ChannelKind.LAMP: "dark", ChannelKind.SIREN: "silent"}


def listed(words: Iterable[str], *, last: str = "and") -> str:
    """
    Return words as a list: "a", "a and b", "a, b and c".

    Parameters
    ----------
    words : iterable of str
        In order.
    last : str, default "and"
        What stands before the last.
    """
    *first, final = words
    return f"{', '.join(first)} {last} {final}" if first else final


def figure_words(value: float, digits: int) -> str:
    """
    Return a figure with that many significant digits, whole and without an exponent where it is larger.

    >>> figure_words(2.3456, 3), figure_words(19_999_999.0, 3)
    ('2.35', '19,999,999')
    """
    return f"{value:.{digits}g}" if abs(value) < 10**digits - 0.5 else f"{value:,.0f}"


def setting_words(setting: Setting) -> str:
    """Return where the inputs stand: "mode respond and park on"."""
    return listed(f"{print_name(key)} {value}" for key, value in setting.away) if setting.away else "everything at rest"


def act_words(part: Input, value: str) -> str:
    """Return what somebody does to bring an input to a value: "turn mode to respond"."""
    name, on = print_name(part.key), value == ON
    if value == LOST:
        return _lost_words(part, name)
    if part.kind.has_positions:
        return f"{'put' if part.means is SignalMeaning.GEAR else 'turn'} {name} to {value}"
    match part.kind:
        case InputKind.PUSH | InputKind.HOLD:
            press = "press" if part.kind is InputKind.PUSH else "press and hold"
            return f"{press} {name}" if on else f"let go of {name}"
        case InputKind.LATCHING:
            return f"press {name} until it is {value}"
        case InputKind.TOGGLE:
            return f"switch {name} {value}"
        case _:
            return f"bring {name} {value}"


def _lost_words(part: Input, name: str) -> str:
    """What somebody does so that an input is lost, by where it comes from."""
    match part.source:
        case GatewaySource(message=message):
            return f"stop or simulate the loss of message {print_name(message)}, so that {name} is lost"
        case WireSource(pin=pin):
            return f"unplug {name} at {pin}"
        case _:
            return f"take {name} off its input"


def changes_words(schedule: FunctionSchedule, before: Setting, after: Setting) -> tuple[str, ...]:
    """Return what somebody does to get from one setting to another, in schedule order."""
    return tuple(
        act_words(part, after.value(part)) for part in schedule.inputs if before.value(part) != after.value(part)
    )


def trace_words(schedule: FunctionSchedule, trace: Trace) -> tuple[str, ...]:
    """
    Return a sequence as acts and waits, starting from rest.

    Parameters
    ----------
    schedule : FunctionSchedule
        Whose inputs they are.
    trace : Trace
        Settings and moments.

    Returns
    -------
    tuple of str
        "turn mode to respond", "wait 3 s", …; empty where everything stays at rest.
    """
    said: list[str] = []
    before, now_ms = AT_REST, 0
    for step in trace.steps:
        if step.at_ms > now_ms:
            said.append(_waited(step.at_ms - now_ms))
        said += changes_words(schedule, before, step.setting)
        before, now_ms = step.setting, step.at_ms
    if trace.look_ms > now_ms:
        said.append(_waited(trace.look_ms - now_ms))
    return tuple(said)


def trace_sentence(schedule: FunctionSchedule, trace: Trace) -> str:
    """Return a sequence as one clause: "from rest turn mode to respond and wait 3 s", or "at rest"."""
    said = trace_words(schedule, trace)
    return f"from rest {listed(said)}" if said else "at rest"


def _waited(duration_ms: int) -> str:
    return "at once" if duration_ms <= 1 else f"wait {print_duration(duration_ms)}"


def still_word(kinds: Iterable[ChannelKind]) -> str:
    """Return what outputs are that nothing drives: lamps "dark", sirens "silent", all others and a mixture "off"."""
    found = set(kinds)
    return _STILL.get(next(iter(found)), OFF) if len(found) == 1 else OFF


def shown_words(compiled: CompiledSchedule, shows: Appearance, kind: ChannelKind = ChannelKind.LAMP) -> str:
    """
    Return what a channel shows: "dark", "steady at 30 %", "flash double, 250 ms late".

    Parameters
    ----------
    compiled : CompiledSchedule
        Gives patterns their names.
    shows : Appearance
        What is shown.
    kind : ChannelKind, default lamp
        What hangs on the channel: a siren is "silent" where a lamp is "dark", anything else "off".
    """
    if shows == FOLLOWS_VEHICLE:
        return "as the vehicle asks"
    if shows == DARK:
        return still_word((kind,))
    level = f" at {min(99, max(1, round(shows.level_percent)))} %" if shows.level_percent < 100 else ""
    if not shows.steps:
        return f"steady{level}"
    names = [pattern.key for pattern in compiled.schedule.patterns if pattern.steps == shows.steps]
    late = f", {print_duration(shows.phase_ms)} late" if shows.phase_ms else ""
    return f"flash {names[0] if names else 'of another schedule'}{level}{late}"


def outcome_words(compiled: CompiledSchedule, outcome: Outcome) -> str:
    """
    Return what a channel does and why: "siren is steady by rule wail".

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    outcome : Outcome
        Of one channel.
    """
    kind = next(one.kind for one in compiled.schedule.channels if one.key == outcome.channel)
    shown = shown_words(compiled, outcome.shows, kind)
    verb = "flashes" if shown.startswith("flash ") else "is"
    said = f"{print_name(outcome.channel)} {verb} {shown.removeprefix('flash ')}"
    if outcome.cut_by:
        return f"{said}, cut by rule {print_title(outcome.cut_by)}"
    if outcome.displaced_by:
        return f"{said}, for {print_name(outcome.displaced_by)} has its head"
    dimmed = f", dimmed by rule {print_title(outcome.dimmed_by)}" if outcome.dimmed_by else ""
    dimmed += ", lowered to keep its head's maximum" if outcome.is_lit and outcome.shared_ratio < 1 else ""
    return f"{said} by rule {print_title(outcome.rule)}{dimmed}" if outcome.rule else f"{said}, which no rule asks"
