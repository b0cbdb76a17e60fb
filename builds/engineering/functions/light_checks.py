"""Flash rates against their limits, patterns that keep step, heads against their maximum."""

from collections.abc import Iterator
from itertools import product

from builds.engineering.findings import Finding, Number
from builds.engineering.functions.appearances import Appearance, channel_logics
from builds.engineering.functions.catalogue import found
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.gates import Literal
from builds.engineering.functions.patterns import FlashPattern, flash_figures, flash_limit, most_together_ratio
from builds.engineering.functions.printing import print_duration, print_name, print_title
from builds.engineering.functions.proof import SpaceInUse
from builds.engineering.functions.rule_checks import is_possible
from builds.engineering.functions.sampling import Sample
from builds.engineering.functions.schedule import FunctionSchedule, Head
from builds.engineering.functions.vocabulary import DimMethod, HeadRule
from builds.engineering.functions.words import figure_words, listed, shown_words

__all__ = ["check_heads", "check_patterns"]

_TOLERANCE_A = 1e-9
Shown = tuple[Appearance, Literal, float]


def check_patterns(schedule: FunctionSchedule) -> Iterator[Finding]:
    """Yield patterns outside the rates they are to keep, uneven ones, and ones that share a clock and not a length."""
    for pattern in schedule.patterns:
        if pattern.limit:
            yield from _rates(pattern)
    clocks: dict[str, dict[str, FlashPattern]] = {}
    patterns = {pattern.key: pattern for pattern in schedule.patterns}
    for rule in schedule.rules:
        if rule.effect.sync:
            clocks.setdefault(rule.effect.sync, {})[rule.effect.pattern] = patterns[rule.effect.pattern]
    for sync, used in clocks.items():
        periods = sorted({pattern.period_ms for pattern in used.values()})
        if len(periods) > 1:
            yield found(
                "sync-periods-differ",
                f"sync:{sync}",
                patterns=listed(map(print_name, used)),
                sync=print_name(sync),
                periods=listed(map(print_duration, periods)),
            )


def _rates(pattern: FlashPattern) -> Iterator[Finding]:
    figures, limit = flash_figures(pattern), flash_limit(pattern.limit)
    subject, name = f"pattern:{pattern.key}", print_title(pattern.key)
    numbers = (
        Number(name="rate", value=figures.flashes_per_min, unit="1/min"),
        Number(name="least", value=limit.least_per_min, unit="1/min"),
        Number(name="most", value=limit.most_per_min, unit="1/min"),
    )
    if not limit.least_per_min <= figures.flashes_per_min <= limit.most_per_min:
        yield found(
            "flash-rate",
            subject,
            numbers=numbers,
            source=f"{limit.source} ({limit.status})",
            pattern=name,
            rate=figure_words(figures.flashes_per_min, 4),
            least=f"{limit.least_per_min:g}",
            most=f"{limit.most_per_min:g}",
            limit=limit.key,
        )
    elif not figures.is_even:
        slowest, fastest = (figure_words(rate, 4) for rate in (figures.slowest_per_min, figures.fastest_per_min))
        yield found("flash-uneven", subject, numbers=numbers, pattern=name, slowest=slowest, fastest=fastest)


def check_heads(spaces: SpaceInUse, sample: Sample) -> Iterator[Finding]:
    """Yield heads that some reachable state asks more of than they are made for."""
    compiled = spaces.compiled
    for head in compiled.schedule.heads:
        if not head.max_current_a:
            if head.colours is HeadRule.SHARED:
                yield found("head-shares-nothing", f"head:{head.key}", head=print_title(head.key))
            continue
        worst = _worst(spaces, sample, head)
        if worst is not None:
            current_a, how = worst
            yield found(
                "head-over-maximum",
                f"head:{head.key}",
                numbers=(
                    Number(name="current", value=current_a, unit="A"),
                    Number(name="limit", value=head.max_current_a, unit="A"),
                ),
                head=print_title(head.key),
                current=f"{figure_words(current_a, 3)} A",
                limit=f"{figure_words(head.max_current_a, 6)} A",
                how=how,
            )


def _worst(spaces: SpaceInUse, sample: Sample, head: Head) -> tuple[float, str] | None:
    """The largest current above the head's maximum that is lit at one moment, and what is lit then."""
    compiled = spaces.compiled
    most_a = head.max_current_a + _TOLERANCE_A
    options = [_shown(compiled, head, channel) for channel in head.channels]
    if head.colours is HeadRule.SHARED:
        return _worst_alone(compiled, head)
    if sum(max(a for _, _, a in option) for option in options) <= most_a:
        return None
    over = [(current_a, shown) for shown in product(*options) if (current_a := _current_a(compiled, shown)) > most_a]
    for current_a, shown in sorted(over, key=lambda one: -one[0]):
        if is_possible(spaces, sample, compiled.gates.all_of(literal for _, literal, _ in shown)):
            lit = [
                f"{print_name(channel)} {shown_words(compiled, look)}"
                for channel, (look, _, a) in zip(head.channels, shown, strict=True)
                if a
            ]
            return current_a, listed(lit)
    return None


def _worst_alone(compiled: CompiledSchedule, head: Head) -> tuple[float, str] | None:
    """The colour of a shared head that takes more than its maximum alone, for a driver shares between several."""
    currents = {one.key: one.current_a for one in compiled.schedule.channels if one.key in head.channels}
    key = max(currents, key=currents.__getitem__)
    return (currents[key], f"{print_name(key)} alone") if currents[key] > head.max_current_a + _TOLERANCE_A else None


def _shown(compiled: CompiledSchedule, head: Head, channel: str) -> list[Shown]:
    """What a colour can show, where, and the current it then takes while lit; pulse width leaves that as it is."""
    number = next(n for n, one in enumerate(compiled.schedule.channels) if one.key == channel)
    full_a = compiled.schedule.channels[number].current_a
    by_current = head.dims_by is DimMethod.CURRENT
    return [
        (look, literal, full_a * (look.level_percent / 100 if by_current else bool(look.level_percent)))
        for look, literal in channel_logics(compiled)[number].shows.items()
    ]


def _current_a(compiled: CompiledSchedule, shown: tuple[Shown, ...]) -> float:
    patterns = {pattern.steps: pattern for pattern in compiled.schedule.patterns}
    lit = tuple(
        (patterns[look.steps] if look.steps else None, look.phase_ms, look.sync, current_a)
        for look, _, current_a in shown
        if current_a
    )
    return most_together_ratio(lit) if lit else 0.0
