"""What loads take at a battery's post: a constant part, a part in proportion to the voltage, a part against it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from builds.engineering.ranges import check_at_least

__all__ = ["NOTHING", "LawsOf", "LoadLaw", "sum_of_laws"]


@dataclass(frozen=True, slots=True)
class LoadLaw:
    """Mean current of the loads on one post as ``constant + conductance × V + power / V``."""

    constant_a: float = 0.0
    conductance_s: float = 0.0
    power_w: float = 0.0

    def __post_init__(self) -> None:
        check_at_least("conductance_s", self.conductance_s, 0.0)

    def current_a(self, voltage_v: float) -> float:
        """
        Return the current at a voltage.

        Parameters
        ----------
        voltage_v : float
            Voltage at the post, above 0. [V]
        """
        return self.constant_a + self.conductance_s * voltage_v + self.power_w / voltage_v


NOTHING = LoadLaw()

# By stage and by what is switched off: a law for each of the stage's posts, in their order.
LawsOf = Callable[[int, frozenset[str]], tuple[LoadLaw, ...]]


def sum_of_laws(laws: Iterable[LoadLaw]) -> LoadLaw:
    """Return what several laws take together."""
    parts = [(law.constant_a, law.conductance_s, law.power_w) for law in laws]
    constant_a, conductance_s, power_w = (sum(column) for column in zip(*parts, strict=True)) if parts else (0, 0, 0)
    return LoadLaw(float(constant_a), float(conductance_s), float(power_w))
