"""
A build's sheet as it is read: the working design, what the core says of it, and how both stand to the last revision.

The questions asked of the database are the same however many circuits there are: those of ``design_of`` and four more.
A revision never changes, so what the core says of one is worked out once per process and kept.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from builds.engineering.assess import assess
from builds.engineering.assessment import Assessment
from builds.engineering.changes import FAMILIES
from builds.engineering.design import Design
from builds.errors import NotHere
from builds.models import Build, FindingOverride, Revision, Shop
from builds.selectors.figure_words import Measures
from builds.selectors.kept_designs import assessed_design
from builds.selectors.released_design import released_design

__all__ = ["Sheet", "build_named", "read_sheet", "rows_of", "sheet_of"]


@dataclass(frozen=True, slots=True)
class Frozen:
    """A revision with its design and what the core says of it."""

    revision: Revision
    design: Design
    assessment: Assessment


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """
    One build as its sheet shows it.

    ``newest`` is the last revision, ``authorised`` the last one that carries an authorisation. ``changed`` names the
    rows ("circuit:203") that differ from the newest revision; ``removed`` how many rows it has that are gone.
    """

    build: Build
    design: Design
    assessment: Assessment
    newest: Revision | None
    authorised: Frozen | None
    changed: frozenset[str]
    removed: int
    overrides: tuple[FindingOverride, ...]
    shop: Shop | None

    @property
    def measures(self) -> Measures:
        """How lengths and masses of this build are shown."""
        return Measures(self.design.conventions.units, self.design.conventions.gauge_basis)

    @property
    def currency(self) -> str:
        """The shop's currency by its code."""
        return self.shop.currency if self.shop else "USD"

    @property
    def zone(self) -> ZoneInfo:
        """The shop's time zone."""
        return ZoneInfo(self.shop.time_zone if self.shop else "UTC")

    @property
    def change_count(self) -> int:
        """How many rows differ from the newest revision."""
        return len(self.changed) + self.removed


def build_named(number: str) -> Build:
    """Return a build with what its sheet needs beside it. Raises NotHere."""
    found = Build.objects.select_related("customer", "profile", "vehicle", "platform", "responsible")
    build = found.filter(number=number).first()
    if build is None:
        raise NotHere(f"There is no build {number}.")
    return build


def read_sheet(build: Build) -> Sheet:
    """Return the sheet of a build as it stands."""
    return sheet_of(build, *assessed_design(build))


def sheet_of(build: Build, design: Design, assessment: Assessment) -> Sheet:
    """Return the sheet of a build whose design and assessment are at hand."""
    revisions = list(build.revisions.order_by("-sequence").prefetch_related("authorisations"))
    newest = revisions[0] if revisions else None
    signed = next((item for item in revisions if item.authorisations.all()), None)
    before = released_design(newest.document_id) if newest else None
    changed, removed = _differences(before, design) if before else (frozenset(), 0)
    return Sheet(
        build=build,
        design=design,
        assessment=assessment,
        newest=newest,
        authorised=Frozen(signed, released_design(signed.document_id), _assessment_of(signed.document_id))
        if signed
        else None,
        changed=changed,
        removed=removed,
        overrides=tuple(build.overrides.select_related("by")),
        shop=Shop.objects.first(),
    )


def rows_of(design: Design) -> Iterator[tuple[str, Any]]:
    """Yield "family:key" and the frozen part of every row of a design."""
    for name, family in FAMILIES.items():
        for part in getattr(design, family.field):
            yield f"{name}:{family.key_of(part)}", part
    if design.function_schedule:
        yield "functions:schedule", design.function_schedule


def _differences(before: Design, now: Design) -> tuple[frozenset[str], int]:
    old = dict(rows_of(before))
    new = dict(rows_of(now))
    changed = frozenset(subject for subject, part in new.items() if old.get(subject) != part)
    return changed, len(old.keys() - new.keys())


@lru_cache(maxsize=32)
def _assessment_of(sha256: str) -> Assessment:
    return assess(released_design(sha256))
