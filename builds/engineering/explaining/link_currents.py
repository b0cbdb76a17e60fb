"""What flows over cables between two batteries beside the loads, for the workings of their currents."""

from collections.abc import Iterator

from builds.engineering.assessing.equalising import Equalising, equalisings
from builds.engineering.assessing.link_charging import link_charges
from builds.engineering.assessing.states import State
from builds.engineering.assessing.words import of_node
from builds.engineering.explaining.subject import Subject
from builds.engineering.explaining.values import Row

__all__ = ["charged_over", "closing_row", "deciding_closing"]

_SAME = 1e-9


def charged_over(subject: Subject, state: State, column: int, place: int) -> Iterator[Row]:
    """Yield what batteries that hang on another are charged with over an element (row) in a condition (column)."""
    for charge in link_charges(subject.solved.index, subject.solved.network, state):
        if place in charge.rows and charge.current_a[column]:
            current_a = float(charge.current_a[column])
            yield Row(f"{charge.battery.name or charge.battery.key}, charging", (current_a, 1.0), current_a)


def deciding_closing(subject: Subject, place: int, peak_a: float) -> Equalising | None:
    """Return the battery whose joining to another makes an element's peak, if one does."""
    for one in equalisings(subject.solved.index, subject.solved.network):
        if place in one.rows and abs(one.current_a - peak_a) <= _SAME * peak_a:
            return one
    return None


def closing_row(one: Equalising) -> Row:
    """Return the row of what flows into an empty battery as a switch joins it to a full one."""
    return Row(f"{of_node(one.full)} into {of_node(one.empty)}, empty", (one.current_a, 1.0), one.current_a)
