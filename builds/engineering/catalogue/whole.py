"""
The catalogue of findings: every id that an assessment can report, with its weight, its words and where its rule is from.
Those of function schedules are kept beside what makes them, and are part of this one.

One id has one severity and one sentence. The sentence is a template with named places, so that a translation is data; a
finding fills them with figures rounded for people and carries the exact figures beside them. Ids are stable: documents,
overrides and other people's lists of expected findings name them.
"""

from collections.abc import Mapping
from types import MappingProxyType

from builds.engineering.catalogue.duty import DUTY
from builds.engineering.catalogue.feeding import FEEDING
from builds.engineering.catalogue.power import ENERGY, TREE_FINDINGS, VOLTAGE
from builds.engineering.catalogue.vehicle import BILL, IDENTITY, WEIGHTS, WORK
from builds.engineering.catalogue.wiring import CONDUCTORS, DEVICES
from builds.engineering.catalogue_kind import FindingKind
from builds.engineering.findings import Finding, Number, ProposedFix
from builds.engineering.functions.catalogue import FUNCTION_CATALOGUE

__all__ = ["CATALOGUE", "found"]

CATALOGUE: Mapping[str, FindingKind] = MappingProxyType(
    {
        entry.id: entry
        for family in (
            CONDUCTORS,
            DEVICES,
            VOLTAGE,
            TREE_FINDINGS,
            FEEDING,
            IDENTITY,
            ENERGY,
            DUTY,
            WEIGHTS,
            BILL,
            WORK,
        )
        for entry in family
    }
    | dict(FUNCTION_CATALOGUE)
)


def found(
    id_: str,
    subject: str,
    *,
    numbers: tuple[Number, ...] = (),
    fix: ProposedFix | None = None,
    source: str = "",
    words: Mapping[str, str] = MappingProxyType({}),
    **more: str,
) -> Finding:
    """
    Return a finding of the catalogue with its sentence filled in.

    Parameters
    ----------
    id_ : str
        An id of the catalogue; KeyError names one that is not there.
    subject : str
        "family:key", or "build".
    numbers : tuple of Number
        The exact figures behind the words.
    fix : ProposedFix, optional
        A repair that can be applied as it stands.
    source : str
        Whose rule it is, where that is more exact than what the catalogue says.
    words, more : str
        The named places of template and hint, from a mapping and one by one.
    """
    entry, places = CATALOGUE[id_], {**words, **more}
    return Finding(
        id=id_,
        severity=entry.severity,
        subject=subject,
        message=entry.template.format(**places),
        numbers=numbers,
        hint=entry.hint.format(**places),
        source=source or entry.source,
        fix=fix,
    )
