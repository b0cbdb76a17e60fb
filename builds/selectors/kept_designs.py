"""
Working designs that this process has read and assessed, kept by the version they had.

Every edit of a design raises its build's version under a lock, and everything else a design is made of carries a row version
of its own, so what is kept under a set of versions never changes: typing in a row asks for the same design again and again.
Only what is committed may be kept: the pages read outside of any transaction, and they alone call this module.
"""

from collections import OrderedDict
from threading import Lock

from builds.engineering.assess import assess
from builds.engineering.assessment import Assessment
from builds.engineering.design import Design
from builds.models import Build
from builds.selectors.engineering_inputs import design_of
from builds.selectors.loaded_files import loaded_files_of

__all__ = ["assessed_design", "forget_designs", "keep_design", "working_design"]

_MOST = 16  # a design of 120 circuits with its assessment takes about 2 MB
_kept: OrderedDict[tuple[int, ...], tuple[Design, Assessment]] = OrderedDict()
_lock = Lock()


def _versions(build: Build) -> tuple[int, ...]:
    """Return all that tells one state of a working design from another."""
    return (
        build.pk, build.design_version, build.row_version, build.customer.row_version, build.profile_id,
        build.profile.row_version, build.vehicle.row_version, build.platform_id, build.platform.row_version,
    )  # fmt: skip


def assessed_design(build: Build) -> tuple[Design, Assessment]:
    """Return the working design of ``build`` and what the core says of it."""
    found = _find(_versions(build))
    if found is None:
        design = design_of(build)
        found = design, assess(design, loaded_files_of(build) if design.function_schedule else ())
        keep_design(build, *found)
    return found


def working_design(build: Build) -> Design:
    """Return the working design of ``build``, read anew where it is not kept."""
    found = _find(_versions(build))
    return design_of(build) if found is None else found[0]


def keep_design(build: Build, design: Design, assessment: Assessment) -> None:
    """Keep a design and its assessment under the versions that ``build`` has; the one asked for longest ago goes."""
    with _lock:
        _kept[_versions(build)] = design, assessment
        while len(_kept) > _MOST:
            _kept.popitem(last=False)


def forget_designs() -> None:
    """Forget all of them, as a test does that writes rows past the services."""
    with _lock:
        _kept.clear()


def _find(versions: tuple[int, ...]) -> tuple[Design, Assessment] | None:
    with _lock:
        found = _kept.get(versions)
        if found is not None:
            _kept.move_to_end(versions)
        return found
