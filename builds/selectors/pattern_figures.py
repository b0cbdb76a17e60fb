"""What a flash pattern comes to, in words for the form it is edited in: rates, duty, bursts, and the limits on file."""

from dataclasses import dataclass

from builds.engineering.findings import Finding
from builds.engineering.functions.light_checks import check_patterns
from builds.engineering.functions.patterns import (
    FlashFigures,
    FlashLimit,
    FlashPattern,
    flash_figures,
    flash_limit,
    flash_limit_names,
)
from builds.engineering.functions.printing import print_duration
from builds.engineering.functions.schedule import FunctionSchedule
from builds.engineering.functions.words import figure_words

__all__ = ["LimitRow", "PatternFigures", "limit_rows", "pattern_figures"]


@dataclass(frozen=True, slots=True)
class LimitRow:
    """A limit on file: its name, of what, the rates it allows, and where it is from."""

    key: str
    use: str
    rates: str
    source: str


@dataclass(frozen=True, slots=True)
class PatternFigures:
    """Figures with their names, the limit asked of the pattern, and what the core finds of it."""

    figures: tuple[tuple[str, str], ...]
    asked: LimitRow | None
    findings: tuple[Finding, ...]


def pattern_figures(pattern: FlashPattern) -> PatternFigures:
    """
    Return what a pattern comes to.

    Parameters
    ----------
    pattern : FlashPattern
        Timed steps; its limit is one of the table, or none.
    """
    found = flash_figures(pattern)
    return PatternFigures(
        figures=_figures(found),
        asked=_limit(flash_limit(pattern.limit)) if pattern.limit else None,
        findings=tuple(check_patterns(FunctionSchedule(patterns=(pattern,)))),
    )


def limit_rows() -> tuple[LimitRow, ...]:
    """Return every limit on file, in the table's order."""
    return tuple(_limit(flash_limit(key)) for key in flash_limit_names())


def _figures(found: FlashFigures) -> tuple[tuple[str, str], ...]:
    per_flash = round(found.pulses_per_min / found.flashes_per_min)
    bursts = "none: each flash is one pulse"
    if found.pulse_rate_hz is not None:
        most = "" if per_flash * found.flashes_per_min == found.pulses_per_min else "about "
        bursts = f"{most}{per_flash} pulses a flash, {figure_words(found.pulse_rate_hz, 3)} pulses a second inside"
    rate = f"{figure_words(found.flashes_per_min, 4)} a minute"
    if not found.is_even:
        slowest, fastest = (figure_words(one, 4) for one in (found.slowest_per_min, found.fastest_per_min))
        rate += f", unevenly: from {slowest} to {fastest}"
    return (
        ("Flashes", rate),
        ("Duty", f"{figure_words(100 * found.duty_ratio, 3)} % of the time, dimmed steps by their level"),
        ("Bursts", bursts),
        ("One round", print_duration(found.period_ms)),
    )


def _limit(limit: FlashLimit) -> LimitRow:
    return LimitRow(
        key=limit.key,
        use=limit.use,
        rates=f"{limit.least_per_min:g} to {limit.most_per_min:g} a minute",
        source=f"{limit.source} ({limit.status})",
    )
