"""Two designs of one build set beside each other: which figures of the strip move, which findings are new and which are gone."""

from dataclasses import dataclass, replace

from builds.drawings.margin_bar import WITHIN, margin_of, margin_words
from builds.engineering.assess import assess
from builds.engineering.design import Design
from builds.engineering.findings import Finding
from builds.selectors.build_sheet import Sheet
from builds.selectors.live_strip import StripFigure, strip_figures
from builds.selectors.loaded_files import loaded_files_of
from builds.selectors.sheet_findings import FindingCard, cards_of

__all__ = ["Difference", "FigurePair", "difference_words", "sheet_difference", "sheet_with"]


@dataclass(frozen=True, slots=True)
class FigurePair:
    """One figure of the strip before and after."""

    before: StripFigure
    after: StripFigure

    @property
    def moved(self) -> bool:
        """Whether a reader would see another figure or another word."""
        return (self.before.label, self.before.value, self.before.words, said(self.before)) != (
            self.after.label, self.after.value, self.after.words, said(self.after),
        )  # fmt: skip

    @property
    def words(self) -> str:
        """The sentence "Worst drop, circuit 203: 5.5 → 4.2 %"."""
        unit = f" {self.after.unit}" if self.after.unit else ""
        if self.before.label == self.after.label:
            return f"{self.after.label}: {self.before.value} → {self.after.value}{unit}"
        return f"{self.before.label} {self.before.value} → {self.after.label} {self.after.value}{unit}"


def said(figure: StripFigure) -> str:
    """Return what stands under a figure: what is left of its limit."""
    if figure.limit is None or figure.used is None:
        return figure.words
    margin = margin_of(figure.used, figure.limit, kind=figure.kind, near_ratio=figure.near_ratio)
    words = margin_words(margin, unit=figure.unit, places=figure.places)
    return words if margin.state == WITHIN else f"{margin.state}: {words}"


@dataclass(frozen=True, slots=True)
class Difference:
    """Every figure of the strip before and after, and the findings that would come and go, worst first."""

    figures: tuple[FigurePair, ...]
    new: tuple[FindingCard, ...]
    gone: tuple[FindingCard, ...]

    @property
    def moved(self) -> tuple[FigurePair, ...]:
        """The figures that would read otherwise."""
        return tuple(pair for pair in self.figures if pair.moved)


def sheet_with(sheet: Sheet, changed: Design) -> Sheet:
    """Return the sheet as it would be with another design; nothing is written."""
    files = loaded_files_of(sheet.build) if changed.function_schedule else ()
    return replace(sheet, design=changed, assessment=assess(changed, files))


def sheet_difference(before: Sheet, after: Sheet) -> Difference:
    """Return what differs between two sheets of one build."""
    old, new = _subjects(before), _subjects(after)
    return Difference(
        figures=tuple(
            FigurePair(was, now) for was, now in zip(strip_figures(before), strip_figures(after), strict=True)
        ),
        new=tuple(card for card in cards_of(after) if (card.id, card.subject) not in old),
        gone=tuple(card for card in cards_of(before) if (card.id, card.subject) not in new),
    )


def _subjects(sheet: Sheet) -> set[tuple[str, str]]:
    findings: tuple[Finding, ...] = sheet.assessment.findings
    return {(finding.id, finding.subject) for finding in findings}


def difference_words(difference: Difference, *, most: int = 6) -> list[str]:
    """Return the difference in short sentences: what moves, then how many findings come and go by severity."""
    words = [pair.words for pair in difference.moved]
    if len(words) > most:
        words = [*words[:most], f"and {len(words) - most} more figures"]
    for name, cards in (("new", difference.new), ("gone", difference.gone)):
        for severity in ("blocking", "caution", "note"):
            count = sum(card.severity == severity for card in cards)
            if count:
                words.append(f"{count} {severity} finding{'s' if count > 1 else ''} {name}")
    return words
