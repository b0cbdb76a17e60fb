"""
When reserved parts leave the stores: as a step installs them.

A design does not say which operation takes which part, so the whole reservation is issued at once: when the last step of
the installing phase has passed. That phase is mounting; a build with no mounting step installs as it wires, and one with
neither as it closes. What a later revision reserves besides goes out with the next pass after that.
"""

from decimal import Decimal
from uuid import uuid5

from django.db.models import QuerySet

from builds.engineering.vocabulary import Phase
from builds.errors import Taken
from builds.models import Build, ChecklistStep, Tick
from builds.services.step_results import DONE
from inventory.errors import StockError
from inventory.models import Part
from inventory.selectors.stock import job_stock
from inventory.services import stock

__all__ = ["installing_phase", "issue_installed_parts"]

_INSTALLING = (Phase.MOUNT, Phase.WIRE, Phase.CLOSE)


def installing_phase(build: Build) -> Phase | None:
    """Return the phase whose end takes the parts out of the stores; ``None`` for a build without such steps."""
    present = set(_live_steps(build).values_list("phase", flat=True).distinct().order_by())
    return next((phase for phase in _INSTALLING if phase in present), None)


def issue_installed_parts(tick: Tick) -> None:
    """Hand everything kept for the build to it, once the installing phase is done. Raises Taken if stock is not there."""
    build = tick.step.build
    phase = installing_phase(build)
    if phase is None or _live_steps(build).filter(phase=phase).exclude(result__in=DONE).exists():
        return
    kept = {part: own.reserved for part, own in job_stock(build.number).items() if own.reserved > 0}
    for part in Part.objects.filter(pk__in=kept).order_by("number"):
        _issue(tick, part, build, kept[part.pk])


def _issue(tick: Tick, part: Part, build: Build, quantity: Decimal) -> None:
    try:
        stock.issue(
            part=part, quantity=quantity, job=build.number, job_line="", by=tick.by, at=tick.at,
            event_id=uuid5(tick.event_id, f"issue {part.number}"),
        )  # fmt: skip
    except StockError as error:
        raise Taken(f"The stores cannot hand out what this step installs. {error.message}") from error


def _live_steps(build: Build) -> QuerySet[ChecklistStep]:
    return ChecklistStep.objects.filter(build=build, retired=False, is_hold_point=False)
