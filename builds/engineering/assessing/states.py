"""
Every setting of switches and sources solved: every operating condition at its lowest and its highest source voltage.

Each worst is taken to its own side. Drop and constant power are worst at the low voltage with the conductor at the drop
rule's temperature; lamps and other resistances take most at the high voltage with the conductor at 20 °C.
"""

from dataclasses import dataclass, field

import numpy as np

from builds.engineering.assessing.conversion import converted
from builds.engineering.assessing.demand import Asked, Demand, Feeds, demand_of, each_lit_a, summed
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.lockouts import Drawn, Settled, draw_network, settle, settled_together
from builds.engineering.assessing.moments import Moments, moments_of_columns
from builds.engineering.assessing.settings import settings_of
from builds.engineering.assessing.sharing import joined_roots, shared
from builds.engineering.assessing.sized_on import SizedOn
from builds.engineering.assessing.solved_states import Case, Network, Side, State, Worst
from builds.engineering.assessing.solving import (
    Flags,
    Floats,
    Losses,
    Resistances,
    Solved,
    losses_of,
    resistances_of,
    solve_columns,
)
from builds.engineering.assessing.source_volts import LEAST_V, deficits_of, given_of, lost_in_diodes_v, source_volts
from builds.engineering.assessing.source_ways import Between
from builds.engineering.assessing.topology import Feeding, feedings_of, resized_feedings
from builds.engineering.assessing.trees import Elements, elements_of
from builds.engineering.assessing.wires import Wire, wire_of_run, wires_of_circuits
from builds.engineering.design import DropRule
from builds.engineering.electrical.network_result import NoOperatingPoint
from builds.engineering.vocabulary import DropCurrent

__all__ = ["Case", "Network", "Side", "State", "Worst", "case_of", "solve_states"]

COOL_CONDUCTOR_C = 20.0  # resistance tables are stated at 20 °C; the coolest that working currents are computed at
_SINKINGS = 3  # each takes in what the one before left of the sag inside the batteries: a part r × dI/dV of it
_SHORT_V = 1e-9  # a load is off when it is short of its least voltage by more than rounding


def case_of(rule: DropRule) -> Case:
    """What a rule is judged at."""
    return Case(rule.conductor_temp_c, rule.current)


def solve_states(index: IndexedDesign, was: Network | None = None) -> Network:
    """
    Return the solved distribution; a state that no condition runs in has no columns, but its ways all the same.

    ``was`` is one of a design that differs in the sizes of wires and devices alone: its ways and its demand are the same.
    """
    design = index.design
    elements = elements_of(design) if was is None else was.elements
    run_wires = {run.key: wire_of_run(index, run) for run in design.runs}
    circuit_wires = wires_of_circuits(index, {} if was is None else was.wire_by_id())
    demand = demand_of(index) if was is None else was.demand
    settings = list(settings_of(index))
    if was is None:
        feedings = feedings_of(design, elements, [setting for setting, _ in settings])
    else:
        feedings = resized_feedings(was.feedings, design)
    near = (None,) * len(settings) if was is None else was.states
    states = tuple(
        _Solving(index, elements, run_wires, circuit_wires, demand, feeding, list(places), state).state()
        for feeding, (_, places), state in zip(feedings, settings, near, strict=True)
    )
    return Network(elements, run_wires, circuit_wires, demand, feedings, states)


@dataclass(frozen=True, slots=True)
class _Lit:
    """
    What is lit at a source voltage (that × conditions), moment by moment: circuits' voltages, how much of each load is on and
    which are off, converters that are off, and the conditions that collapse.
    """

    source_v: Floats
    voltage_v: Floats
    on: Floats
    off: Floats
    converters_off: Floats
    collapses: dict[int, NoOperatingPoint]


@dataclass(slots=True)
class _Solving:
    """
    One setting being solved: what its columns have in common is worked out once.

    ``near`` is that setting solved with other sizes of wires and devices: its voltages are near those sought.
    """

    index: IndexedDesign
    elements: Elements
    run_wires: dict[str, Wire]
    circuit_wires: dict[str, Wire]
    demand: Demand
    feeding: Feeding
    chosen: list[int]
    near: State | None
    feeds: Feeds = field(init=False)
    moments: Moments = field(init=False)
    resistances: Resistances = field(init=False)
    source_ohm: Floats = field(init=False)
    losses: dict[float, Losses] = field(init=False, default_factory=dict)
    drawn: dict[tuple[float, bool], Drawn] = field(init=False, default_factory=dict)
    asleep_a: Floats = field(init=False)  # of circuits
    sized_on: SizedOn = field(init=False)
    lit_asked: Asked = field(init=False)  # at each moment, before anything cuts out
    given: tuple[Floats, Floats] = field(init=False)

    def __post_init__(self) -> None:
        design, near = self.index.design, self.near
        if near is None:
            self.feeds = Feeds.of(self.demand.loads, self.feeding.column_of, len(self.feeding.root))
            self.moments = moments_of_columns(self.demand.moments, self.chosen)
            self.given = given_of(self.index, self.feeding, self.chosen)
        else:
            self.feeds, self.moments, self.given = near.feeds, near.moments, near.given
        of_loads_a = self.demand.asleep_a[:, self.chosen]
        self.asleep_a = self.feeds.summed(of_loads_a)
        self.lit_asked = summed(self.demand, self.feeds, {"lit": self.moments.level}, self.moments.spread(of_loads_a))[
            "lit"
        ]
        own_ohm = np.zeros(len(self.feeding.root))  # a converter is at the end of its run
        own_ohm[: len(self.feeding.circuits)] = [self.circuit_wires[c.number].ohm for c in self.feeding.circuits]
        self.resistances = resistances_of(design, self.elements, self.run_wires, own_ohm)
        # what charges a battery holds the voltage; else it is the battery's, behind what is inside it
        self.source_ohm = np.array(
            [
                n.battery.internal_mohm / 1000 if n.battery and n.key not in self.feeding.chargers else 0.0
                for n in self.index.batteries()
            ]
        )

    def state(self) -> State:
        low_v, high_v = source_volts(self.index, self.feeding, self.chosen)
        cases = self._cases()
        hottest_c = max(case.conductor_temp_c for case in cases)
        self.feeding = self._losses(hottest_c).feeding
        self.sized_on = SizedOn(
            self.demand, self.chosen, self.feeds, self.moments, self.feeding.conversions, self.asleep_a
        )
        near_low_v, near_high_v = (None, None) if self.near is None else self.near.at_moments_v
        lit, high_lit = self._lit(low_v, hottest_c, near_low_v), self._lit(high_v, COOL_CONDUCTOR_C, near_high_v)
        mean_a, high_mean_a = self._means(lit, high_lit)
        high = self._side_of(high_lit, high_mean_a)
        flowing_a = self._flowing(lit)
        sunk = self._sunk(lit, flowing_a, (mean_a, high_mean_a), hottest_c)
        low = self._side_of(lit, mean_a, flowing_a) if sunk is None else sunk
        works = np.ones(len(self.chosen), dtype=bool)
        works[list(low.collapses.keys() | high.collapses.keys())] = False
        return State(
            feeding=self.feeding,
            resistances=self.resistances,
            source_ohm=self.source_ohm,
            chosen=tuple(self.chosen),
            feeds=self.feeds,
            low=low,
            high=high,
            drops={case: self._drop(case, low, hottest_c, low.source_v) for case in cases},
            works=works,
            known=self._known(),
            worst=Worst.of(low, high, works, self.sized_on.unstarved(low, high_v)),
            wanted_a=self._wanted(),
            moments=self.moments,
            given=self.given,
        )

    def _sunk(self, held: _Lit, held_a: Floats, means_a: tuple[Floats, Floats], hottest_c: float) -> Side | None:
        """
        The low side with batteries making up what sources cannot give, where the most of any moment is more than they give.

        A flash pulls the voltage while it lasts, however little it comes to on the whole: where the mean is within what they
        give, the mean stays that at the voltage they hold.
        From the batteries' rest voltage downwards only: a load that cuts out does not lift the voltage that it cut out at.
        """
        feeding, ways = self.feeding, self.feeding.from_sources
        mean_a = feeding.battery @ np.maximum(*means_a)
        battery_a = np.maximum(mean_a, self.moments.most(feeding.battery @ held_a))
        deficits = deficits_of(self.index, feeding, self.chosen, self.given, battery_a)
        if deficits is None:
            return None
        columns, ohm = (feeding.panels.column, feeding.returns.column), self.resistances.at(hottest_c)[0]
        between = None if ways is None else Between.of(ways, ohm, columns, feeding.root)
        post_v, lit = np.full_like(held.source_v, np.inf), held
        flowing_a = self.moments.spread(np.zeros_like(held.source_v))
        for _ in range(_SINKINGS):
            short_a = deficits.short_a(self.moments.most(feeding.battery @ flowing_a))
            post_v = np.minimum(post_v, deficits.post_v(short_a))
            low_v = post_v
            if between is not None:
                low_v = post_v + between.lift_v(self.moments.most(between.lost_v(flowing_a)), short_a)
            low_v = np.minimum(held.source_v, np.maximum(low_v, LEAST_V))
            lit = self._lit(low_v, hottest_c, start_v=lit.voltage_v)
            flowing_a = self._flowing(lit)
        [low_mean_a] = self._means(lit)
        return self._side_of(lit, np.where(deficits.short_a(mean_a) > 0, low_mean_a, means_a[0]))

    def _wanted(self) -> Floats:
        """What everything lit asks of each converter that feeds a bus of its own, converters × conditions [A]."""
        wanted = np.zeros((len(self.feeding.conversions), len(self.chosen)))
        for at, part in enumerate(self.feeding.conversions):
            if not part.charges:
                asked_a = self.demand.lit.at(np.full((1, 1), part.spec.output_v)) * self.demand.on[:, self.chosen]
                wanted[at] = part.fed @ self.feeds.summed(asked_a)
        return wanted

    def _known(self) -> Flags:
        unknown = np.zeros(self.elements.count)
        for key, wire in self.run_wires.items():
            unknown[self.elements.run_row[key]] = not wire.known
        passed = self.feeding.loop_ohm(unknown)  # any unknown element on the way counts more than 0
        own = np.ones(len(passed), dtype=bool)
        own[: len(self.feeding.circuits)] = [self.circuit_wires[c.number].known for c in self.feeding.circuits]
        return np.asarray((passed == 0) & own)

    def _cases(self) -> list[Case]:
        """The drop cases of the rules that this design's loads come under, of those held beside them, and of the general rule."""
        rules = (*self.index.rules_in_use.values(), *self.index.rules_beside)
        return list(dict.fromkeys(case_of(rule) for rule in rules))

    def _losses(self, temperature_c: float) -> Losses:
        if temperature_c not in self.losses:
            element_ohm, own_ohm = self.resistances.at(temperature_c)
            feeding = shared(self.feeding, self.elements, element_ohm=element_ohm, inside_ohm=self.source_ohm)
            self.losses[temperature_c] = losses_of(feeding, element_ohm, own_ohm, self.source_ohm)
        return self.losses[temperature_c]

    def _lit(self, source_v: Floats, temperature_c: float, start_v: Floats | None = None) -> _Lit:
        """What is lit at each moment; loads and converters that do not hold out are off."""
        demand, moments = self.demand, self.moments
        asleep_a, of_moment_v = moments.spread(demand.asleep_a[:, self.chosen]), moments.spread(source_v)
        on = moments.level.copy()
        solved = solve_columns(self._losses(temperature_c), of_moment_v, self.lit_asked, start_v=start_v)
        converters_off = np.zeros((len(self.feeding.conversions), len(moments.of)))
        lit = _Lit(source_v, solved.voltage_v, on, np.zeros_like(on), converters_off, {})
        for column in self._undecided(solved, on):
            settled = self._settle(
                of_moment_v[:, column], temperature_c, on[:, column], asleep_a[:, column], with_lockouts=True
            )
            lit.voltage_v[:, column] = settled.voltage_v
            lit.off[:, column] = settled.off * (on[:, column] > 0)
            on[:, column] *= 1.0 - settled.off
            lit.converters_off[:, column] = settled.converters_off
            if settled.collapse:
                lit.collapses.setdefault(int(moments.of[column]), settled.collapse)
                lit.voltage_v[:, column] = of_moment_v[:, column]
        return lit

    def _flowing(self, lit: _Lit) -> Floats:
        """What every circuit takes at each moment."""
        flowing_a = self.feeds.summed(
            each_lit_a(self.demand, self.feeds, lit.voltage_v) * lit.on
        ) + self.moments.spread(self.asleep_a)
        return converted(self.feeding.conversions, flowing_a, lit.voltage_v)

    def _on(self, lit: _Lit) -> tuple[Floats, Floats]:
        """Loads that are on and those that do not hold out, at any moment of a condition."""
        asked = self.demand.on[:, self.chosen]
        off = asked * self.moments.most(lit.off)
        return asked - off, off

    def _means(self, *lits: _Lit) -> list[Floats]:
        """Mean currents of the circuits at several source voltages, solved in one go."""
        factor = np.concatenate([self.demand.duty[:, self.chosen] * self._on(lit)[0] for lit in lits], axis=1)
        source_v = np.concatenate([lit.source_v for lit in lits], axis=1)
        asleep_a = np.concatenate([self.demand.asleep_a[:, self.chosen]] * len(lits), axis=1)
        asked = summed(self.demand, self.feeds, {"mean": factor}, asleep_a)["mean"]
        solved = self._solved(COOL_CONDUCTOR_C, source_v, factor, asked, asleep_a=asleep_a, full=False)
        return np.split(solved.current_a, len(lits), axis=1)

    def _side_of(self, lit: _Lit, mean_a: Floats, at_moment_a: Floats | None = None) -> Side:
        """Each use's current from what every load takes at the least voltage that its circuit has."""
        moments = self.moments
        (on, off), voltage_v = self._on(lit), moments.least(lit.voltage_v)
        at_moment_a = self._flowing(lit) if at_moment_a is None else at_moment_a
        flowing_a = moments.most(at_moment_a)
        rms_a, sizing_a, continuous_a = self.sized_on.heat(voltage_v, on, flowing_a)
        # with less lit the voltage is a little higher, and a lamp's mean then a little above its RMS at full load
        rms_a = np.maximum(rms_a, mean_a)
        sizing_a = np.maximum(sizing_a, rms_a)
        return Side(
            source_v=lit.source_v,
            voltage_v=voltage_v,
            flowing_a=flowing_a,
            lit_a=np.maximum(flowing_a, sizing_a),
            mean_a=mean_a,
            rms_a=rms_a,
            sizing_a=sizing_a,
            continuous_a=continuous_a,
            off=off,
            converters_off=moments.most(lit.converters_off),
            collapses=lit.collapses,
            at_moment=Solved(lit.voltage_v, at_moment_a, np.ones(len(moments.of), dtype=bool)),
        )

    def _undecided(self, solved: Solved, on: Floats) -> list[int]:
        """Columns that did not settle, or in which a load is below its least voltage."""
        least_v = np.array([load.min_v for load in self.demand.loads])
        at_load_v = self.feeds.at_loads(solved.voltage_v)
        short = (at_load_v < least_v[:, None] - _SHORT_V) & (on > 0) & (self.feeds.fed > 0)[:, None]
        over = np.zeros(on.shape[1], dtype=bool)
        for conversion in self.feeding.conversions:  # past its limit, or below its least voltage
            wanted_a = conversion.fed @ solved.current_a
            over |= (wanted_a > conversion.spec.limit_a) & (not conversion.charges)
            over |= solved.voltage_v[conversion.row] < conversion.spec.min_v - _SHORT_V
        return [int(column) for column in np.flatnonzero(~solved.settled | short.any(axis=0) | over)]

    def _solved(
        self,
        temperature_c: float,
        source_v: Floats,
        factor: Floats,
        asked: Asked,
        *,
        asleep_a: Floats,
        full: bool = True,
    ) -> Solved:
        """Solve, and leave to the network as drawn what sweeps do not settle; 0 V and 0 A where there is no root."""
        solved = solve_columns(self._losses(temperature_c), source_v, asked, full=full)
        voltage_v = solved.voltage_v
        for column in np.flatnonzero(~solved.settled).tolist():
            settled = self._settle(
                source_v[:, column], temperature_c, factor[:, column], asleep_a[:, column], with_lockouts=False
            )
            voltage_v[:, column] = 0.0 if settled.collapse else settled.voltage_v
        if solved.settled.all():
            return solved
        flowing = np.where(voltage_v > 0, asked.at(np.where(voltage_v > 0, voltage_v, 1.0)), 0.0)
        converted(self.feeding.conversions, flowing, voltage_v, full=full)
        return Solved(voltage_v, flowing, np.ones_like(solved.settled))

    def _settle(
        self, source_v: Floats, temperature_c: float, on: Floats, asleep_a: Floats, *, with_lockouts: bool
    ) -> Settled:
        """
        One column by the network as drawn, which has no diodes: once for all that is behind as many of them.

        What is behind others is then taken to stand at the same voltage, which moves no more than their share of the drop.
        """

        def at(volts: Floats) -> Settled:
            return self._settle_at(volts, temperature_c, on, asleep_a, with_lockouts=with_lockouts)

        lost_v = lost_in_diodes_v(self.index, self.feeding)
        if lost_v is None:
            return at(source_v)
        lost_v = lost_v[:, 0]
        found = {float(lost): at(source_v + lost_v - lost) for lost in np.unique(lost_v)}
        return settled_together(self.feeds, self.feeding, lost_v, found)

    def _settle_at(
        self, source_v: Floats, temperature_c: float, on: Floats, asleep_a: Floats, *, with_lockouts: bool
    ) -> Settled:
        key = (temperature_c, with_lockouts)
        if key not in self.drawn:
            self.drawn[key] = draw_network(
                self.feeding,
                self.elements,
                self.resistances,
                self.demand,
                temperature_c=temperature_c,
                with_lockouts=with_lockouts,
            )
        post_ohm = self.resistances.element_ohm
        inside_ohm = {
            node.key: float(ohm + post_ohm[self.elements.node_row[node.key]])
            for node, ohm in zip(self.index.batteries(), self.source_ohm, strict=True)
        }
        ways = self.feeding.from_sources
        inside_ohm |= {charger.battery: 0.0 for charger in (ways.fed if ways is not None else ())}
        of_root: dict[str, float] = {}
        for root, root_v in zip(self.feeding.root, source_v.tolist(), strict=True):
            of_root[root] = min(root_v, of_root.get(root, root_v))
        for together in joined_roots(self.feeding.supply_tree):
            known_v = next((of_root[root] for root in together if root in of_root), 0.0)
            of_root |= dict.fromkeys(together, known_v)
        return settle(self.drawn[key], self.feeds, source_v=of_root, internal_ohm=inside_ohm, on=on, asleep_a=asleep_a)

    def _drop(self, case: Case, low: Side, hottest_c: float, source_v: Floats) -> Solved:
        demand, columns, moments = self.demand, self.chosen, self.moments
        if case == Case(hottest_c, DropCurrent.PEAK):  # what the low side solved already
            return low.at_moment
        asleep_a, factor = demand.asleep_a[:, columns], demand.drop_factor(case.current)[:, columns] * (1.0 - low.off)
        if case.current is DropCurrent.PEAK:
            source_v, asleep_a = moments.spread(source_v), moments.spread(asleep_a)
            factor = moments.level * (1.0 - moments.spread(low.off))
        asked = summed(demand, self.feeds, {"drop": factor}, asleep_a)["drop"]
        return self._solved(case.conductor_temp_c, source_v, factor, asked, asleep_a=asleep_a)
