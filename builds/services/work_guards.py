"""
What must be true before a step of a build may be worked: named reasons, each in the words a person is told.

Bench work needs a build in work, an authorised revision and its parts. Work on the vehicle needs the vehicle checked in,
vehicle, parts and the customer's gear together, and no blocking finding without a recorded override besides. Work in the
yard needs the vehicle; work at a sublet needs the authorised revision alone.
"""

from collections.abc import Callable, Iterator

from builds.engineering.vocabulary import Place
from builds.errors import GuardRefused
from builds.models import Authorisation, Build, ChecklistStep, Stage
from builds.selectors.match import Match, match_of
from builds.services.assessments import assess_build
from builds.services.overrides import open_blocking

__all__ = ["check_workable", "missing_for"]

Reason = tuple[str, str]

_WORKING = (Stage.IN_WORK, Stage.FINAL_CHECK)


def check_workable(step: ChecklistStep) -> None:
    """Raise GuardRefused with every reason why ``step`` may not be worked yet."""
    missing = missing_for(step)
    if missing:
        raise GuardRefused(" ".join(words for _, words in missing), missing=tuple(name for name, _ in missing))


def missing_for(step: ChecklistStep) -> tuple[Reason, ...]:
    """Return (name, words) of everything that ``step`` waits for; empty when it may be worked."""
    build = step.build
    asked = _ASKED[Place(step.place)]
    match = match_of(build) if {"vehicle-in", "parts-reserved", "gear-here"} & set(asked) else None
    return tuple((name, words) for name in asked for words in _CHECKS[name](build, match))


def _in_work(build: Build, match: Match | None) -> Iterator[str]:
    if build.stage not in _WORKING:
        yield f"Build {build.number} is {Stage(build.stage).label.lower()}, not in work."


def _authorised(build: Build, match: Match | None) -> Iterator[str]:
    if not Authorisation.objects.filter(revision__build=build).exists():
        yield "No revision carries the customer's authorisation."


def _vehicle_in(build: Build, match: Match | None) -> Iterator[str]:
    if match and not match.vehicle:
        yield "The vehicle is not checked in."


def _parts(build: Build, match: Match | None) -> Iterator[str]:
    if match and match.short_parts:
        short = ", ".join(part.words for part in match.short_parts[:3])
        more = f" and {len(match.short_parts) - 3} more" if len(match.short_parts) > 3 else ""
        yield f"Parts are short: {short}{more}."


def _gear(build: Build, match: Match | None) -> Iterator[str]:
    if match and match.awaited_gear:
        names = ", ".join(item.description for item in match.awaited_gear[:3])
        yield f"The customer's gear has not come: {names}."


def _findings(build: Build, match: Match | None) -> Iterator[str]:
    if build.assessed_version == build.design_version and not build.blocking_count:
        return
    found = open_blocking(build, assess_build(build))
    if found:
        more = f" and {len(found) - 1} more" if len(found) > 1 else ""
        yield f"A blocking finding is open without an override: {found[0].message}{more}"


_CHECKS: dict[str, Callable[[Build, Match | None], Iterator[str]]] = {
    "in-work": _in_work,
    "revision-authorised": _authorised,
    "vehicle-in": _vehicle_in,
    "parts-reserved": _parts,
    "gear-here": _gear,
    "no-open-blocking": _findings,
}

_BENCH = ("in-work", "revision-authorised", "parts-reserved")
_ASKED: dict[Place, tuple[str, ...]] = {
    Place.BENCH: _BENCH,
    Place.VEHICLE: ("in-work", "revision-authorised", "vehicle-in", "parts-reserved", "gear-here", "no-open-blocking"),
    Place.YARD: ("in-work", "revision-authorised", "vehicle-in"),
    Place.SUBLET: ("in-work", "revision-authorised"),
}
