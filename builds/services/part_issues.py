"""
When reserved parts leave the stores: as a step installs them.

A line of the parts bill may name the operation that installs it: its parts go out when that operation's step passes. What
no operation claims goes out together, when the last step of the installing phase has passed: mounting; for a build with
no mounting step wiring, and for one with neither closing. What a later revision reserves besides goes out with the next
pass after that.
"""

from collections import defaultdict
from collections.abc import Iterable
from decimal import Decimal
from uuid import uuid5

from django.db.models import QuerySet

from builds.engineering.vocabulary import Phase, SuppliedBy
from builds.errors import Taken
from builds.models import Build, ChecklistStep, PartsBillLine, Tick
from builds.services.step_results import DONE
from inventory.errors import StockError
from inventory.models import Part
from inventory.selectors.stock import issued_by_line, job_stock
from inventory.services import stock

__all__ = ["installing_phase", "issue_installed_parts"]

_INSTALLING = (Phase.MOUNT, Phase.WIRE, Phase.CLOSE)


def installing_phase(build: Build) -> Phase | None:
    """Return the phase whose end takes the parts out of the stores; ``None`` for a build without such steps."""
    present = set(_live_steps(build).values_list("phase", flat=True).distinct().order_by())
    return next((phase for phase in _INSTALLING if phase in present), None)


def issue_installed_parts(tick: Tick) -> None:
    """Hand to the build what the passed step installs, and the rest once all is installed. Raises Taken if short."""
    build = tick.step.build
    kept = {part: own.reserved for part, own in job_stock(build.number).items() if own.reserved > 0}
    if not kept:
        return
    waiting = list(_lines_of_operations(build, kept))
    given = issued_by_line(build.number)
    for line in waiting:
        if line.installed_by == tick.step.operation_key:
            due = min(line.quantity - given.get(line.key, Decimal(0)), kept[line.part_id])
            if due > 0:
                _issue(tick, line.part, build, due, line.key)
                kept[line.part_id] -= due
    phase = installing_phase(build)
    if phase is not None and not _live_steps(build).filter(phase=phase).exclude(result__in=DONE).exists():
        _issue_the_rest(tick, build, kept, waiting)


def _issue_the_rest(tick: Tick, build: Build, kept: dict[int, Decimal], waiting: Iterable[PartsBillLine]) -> None:
    """Hand out what is kept, less what the steps of operations still to be done will take."""
    to_do = set(
        _live_steps(build).exclude(result__in=DONE).exclude(operation_key="").values_list("operation_key", flat=True)
    )
    later: dict[int, Decimal] = defaultdict(Decimal)
    for line in waiting:
        if line.installed_by in to_do:
            later[line.part_id] += line.quantity
    for part in Part.objects.filter(pk__in=kept).order_by("number"):
        rest = kept[part.pk] - later[part.pk]
        if rest > 0:
            _issue(tick, part, build, rest, "")


def _lines_of_operations(build: Build, kept: Iterable[int]) -> QuerySet[PartsBillLine]:
    """Return the shop's lines that an operation installs and of which something is kept, in the order of the stores."""
    lines = build.parts.filter(supplied_by=SuppliedBy.SHOP, removed=False, part__in=list(kept)).exclude(installed_by="")
    return lines.select_related("part").order_by("part__number", "line")


def _issue(tick: Tick, part: Part, build: Build, quantity: Decimal, line: str) -> None:
    try:
        stock.issue(
            part=part, quantity=quantity, job=build.number, job_line=line, by=tick.by, at=tick.at,
            event_id=uuid5(tick.event_id, f"issue {part.number} {line}".rstrip()),
        )  # fmt: skip
    except StockError as error:
        raise Taken(f"The stores cannot hand out what this step installs. {error.message}") from error


def _live_steps(build: Build) -> QuerySet[ChecklistStep]:
    return ChecklistStep.objects.filter(build=build, retired=False, is_hold_point=False)
