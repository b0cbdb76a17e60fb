"""What devices and conductors are sized on: the heat of what flows, and what would flow over the best of wires."""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from builds.engineering.assessing.conversion import Conversion, converted
from builds.engineering.assessing.demand import Demand, Feeds, each_lit_a, most_in_step
from builds.engineering.assessing.moments import Moments
from builds.engineering.assessing.solved_states import Side
from builds.engineering.assessing.solving import Floats

__all__ = ["SizedOn"]


@dataclass(slots=True)
class SizedOn:
    """
    The demand of the conditions of one setting (``chosen``), summed over its circuits.

    ``asleep_a`` is what sleeping loads take, circuits × conditions; the factors are loads × conditions.
    """

    demand: Demand
    chosen: list[int]
    feeds: Feeds
    moments: Moments
    conversions: tuple[Conversion, ...]
    asleep_a: Floats
    sizing: Floats = field(init=False)
    root_duty: Floats = field(init=False)

    def __post_init__(self) -> None:
        self.sizing = self.demand.sizing[:, self.chosen]
        self.root_duty = self.demand.root_duty[:, self.chosen]

    def heat(self, voltage_v: Floats, on: Floats, flowing_a: Floats) -> Iterator[Floats]:
        """Yield the RMS, what is sized on and the continuous part of it; none is above the peak of what keeps step."""
        each_a = each_lit_a(self.demand, self.feeds, voltage_v) * on
        each_sizing_a = each_a * self.sizing
        uses = (each_a * self.root_duty, each_sizing_a, each_sizing_a * self.demand.continuous[:, None])
        totals = np.split(self.feeds.summed(np.concatenate(uses, axis=1)), len(uses), axis=1)
        for total, all_it_can in zip(totals, (False, True, True), strict=True):
            heat_a = converted(self.conversions, total + self.asleep_a, voltage_v, full=all_it_can)
            yield np.minimum(heat_a, flowing_a) if self.moments.apart else heat_a

    def unstarved(self, low: Side, high_v: Floats) -> tuple[Floats, Floats]:
        """
        Return the sizing and the continuous current that circuits could take over the best of wires.

        A resistive load behind a thicker wire sees more volts and takes more; one that is off comes on. What is proposed
        must carry that too.
        """
        demand = self.demand
        at_load_v = self.feeds.at_loads(low.voltage_v)
        least_v = np.array([load.min_v for load in demand.loads])[:, None]
        at_load_v = np.where(low.off > 0, np.maximum(least_v, 1.0), np.maximum(at_load_v, 1.0))
        lit_a = (
            demand.lit.constant_a
            + demand.lit.conductance_s * self.feeds.at_loads(high_v)
            + demand.lit.power_w / at_load_v
        )
        sizing_a = lit_a * self.sizing
        whole, continuous = (
            most_in_step(self.feeds, self.moments, lit_a, asked_a) + self.asleep_a
            for asked_a in (sizing_a, sizing_a * demand.continuous[:, None])
        )
        for current_a in (whole, continuous):
            converted(self.conversions, current_a, low.voltage_v)
        return whole, continuous
