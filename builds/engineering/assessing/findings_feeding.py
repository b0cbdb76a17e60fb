"""Findings about converters, voltage windows, how loads are switched and return, and sources whose voltage moves."""

from collections.abc import Iterator

from builds.engineering.assessing.charging_returns import sources_without_drawn_return, sources_without_return
from builds.engineering.assessing.conversion import input_node, nominal_v
from builds.engineering.assessing.findings_sources import LEAST_LIKE, MOST_LIKE
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.settings import engine_runs
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.trees import neighbours, without_metal
from builds.engineering.assessing.words import (
    amperes,
    kind_words,
    listing,
    of_circuit,
    of_condition,
    of_load,
    of_node,
    of_run,
    volts,
)
from builds.engineering.catalogue import found
from builds.engineering.design import Load, PowerNode
from builds.engineering.findings import Change, Finding, Number, ProposedFix
from builds.engineering.run_steps import run_steps
from builds.engineering.vocabulary import NodeKind, RunSide, Switching

__all__ = ["feeding_findings"]

_SAME = 1e-9
_RELAY_OPENS_V = 12.9  # a voltage-sensing isolator lets go about here; from memory, editable data of the part
_HEARS = ("radio",)  # drop classes of what hears its ground
_NEGATIVES = (
    NodeKind.CHASSIS,
    NodeKind.GROUND,
    NodeKind.BUS,
    NodeKind.BATTERY,
)  # what a lead of a bridge must not be on


def feeding_findings(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Yield the findings of this module."""
    yield from _converters(index, network)
    yield from _windows(index, network)
    yield from _unlike(index, network)
    yield from _switching(index)
    yield from _metal(index, network)
    yield from _shared_grounds(index, network)
    yield from _variable(index)
    yield from _opened_running(index)
    yield from _unfed_runs(index, network)
    for source, battery in sources_without_return(index, network):
        name = of_node(source)
        yield found("source-no-way-back", f"node:{source.key}", name=name, battery=of_node(index.nodes[battery]))
    for source in sources_without_drawn_return(index):
        yield found("source-return-not-drawn", f"node:{source.key}", name=of_node(source))


def _converters(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    fed = {part.key for state in network.states for part in state.feeding.conversions}
    for node in index.design.nodes:
        if node.converter is not None and node.key not in fed:
            yield found(
                "converter-not-fed", f"node:{node.key}", name=of_node(node), feeder=_feeder(index, network, node)
            )
        elif node.converter is not None:
            yield from _all_inputs(index, node)
    worst: dict[str, tuple[float, int]] = {}
    off: dict[str, int] = {}
    for state in network.states:
        for at, part in enumerate(state.feeding.conversions):
            for column, place in enumerate(state.chosen):
                wanted_a = float(state.wanted_a[at, column])
                if wanted_a > worst.get(part.key, (0.0, 0))[0]:
                    worst[part.key] = wanted_a, place
                if state.low.converters_off[at, column] and state.works[column]:
                    off.setdefault(part.key, place)
    for key, (wanted_a, place) in worst.items():
        node = index.nodes[key]
        assert node.converter is not None
        if wanted_a > node.converter.limit_a * (1 + _SAME):
            numbers = (
                Number(name="current", value=wanted_a, unit="A"),
                Number(name="limit", value=node.converter.limit_a, unit="A"),
            )
            yield found(
                "converter-over-limit", f"node:{key}", numbers=numbers, name=of_node(node), current=amperes(wanted_a),
                condition=of_condition(index.design.conditions[place]), limit=amperes(node.converter.limit_a),
            )  # fmt: skip
    for key, place in off.items():
        node, condition = index.nodes[key], index.design.conditions[place]
        assert node.converter is not None
        yield found(
            "converter-cuts-out", f"node:{key}", name=of_node(node), minimum=volts(node.converter.min_v),
            condition=of_condition(condition), voltage=volts(condition.source_low_v),
        )  # fmt: skip


def _all_inputs(index: IndexedDesign, node: PowerNode) -> Iterator[Finding]:
    """Several runs that all end at a converter, and nothing that starts there: one was meant to be its output."""
    runs = [run for run in index.design.runs if run.side is RunSide.SUPPLY and run.to_node == node.key]
    gives = any(run.from_node == node.key and run.side is RunSide.SUPPLY for run in index.design.runs)
    if len(runs) < 2 or gives or index.circuits_of.get(node.key):
        return
    charging = [run for run in runs if run.from_node in index.nodes and index.nodes[run.from_node].battery is not None]
    fix = None
    if len(charging) == 1:
        subject, ends = f"run:{charging[0].key}", (("from_node", node.key), ("to_node", charging[0].from_node))
        fix = ProposedFix(
            label=f"Draw {charging[0].key} from {node.key}",
            changes=tuple(Change(subject=subject, field=field, value=value) for field, value in ends),
        )
    keys = listing(tuple(run.key for run in runs))
    yield found("converter-gives-nothing", f"node:{node.key}", fix=fix, name=of_node(node), runs=keys)


def _feeder(index: IndexedDesign, network: Network, node: PowerNode) -> str:
    """What stands at the input of a converter that no source feeds."""
    steps = neighbours(index.design, network.elements, RunSide.SUPPLY)
    met, waiting = {input_node(node.key)}, [input_node(node.key)]
    while waiting:
        for step in steps.get(waiting.pop(), ()):
            if step.to_node not in met:
                met.add(step.to_node)
                waiting.append(step.to_node)
    made = tuple(other.key for other in index.design.nodes if other.converter is not None and other.key in met)
    if not made:
        return (
            "nothing"
            if not met & {battery.key for battery in index.batteries()}
            else "a battery to which no way leads back"
        )
    return f"itself alone ({node.key})" if made == (node.key,) else f"converters alone ({listing(made)})"


def _windows(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """A load's most volts against what stands there with nothing else on, in the worst condition in which it is on."""
    limited = {row: load for row, load in enumerate(index.design.loads) if load.max_v is not None}
    if not limited:
        return
    worst: dict[int, tuple[float, int]] = {}
    for state in network.states:
        at_load_v = state.feeds.at_loads(state.high.source_v)
        for row in limited:
            for column, place in enumerate(state.chosen):
                high_v = float(at_load_v[row, column]) * float(network.demand.on[row, place] > 0)
                if high_v > worst.get(row, (0.0, 0))[0]:
                    worst[row] = high_v, place
    for row, (high_v, place) in sorted(worst.items()):
        load, max_v = limited[row], limited[row].max_v
        assert max_v is not None
        if high_v > max_v * (1 + _SAME):
            numbers = (Number(name="voltage", value=high_v, unit="V"), Number(name="limit", value=max_v, unit="V"))
            yield found(
                "load-over-voltage", f"load:{load.key}", numbers=numbers, load=of_load(load), voltage=volts(max_v),
                condition=of_condition(index.design.conditions[place]), high=volts(high_v),
            )  # fmt: skip


def _unlike(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    nominal: dict[str, float] = {}
    for state in network.states:
        for circuit, root in zip(state.feeding.circuits, state.feeding.root, strict=False):
            nominal.setdefault(circuit.number, nominal_v(index.nodes[root]))
    for load in index.design.loads:
        bus_v = nominal.get(load.circuit)
        if bus_v is not None and not LEAST_LIKE <= load.at_v / bus_v <= MOST_LIKE:
            numbers = (Number(name="at", value=load.at_v, unit="V"), Number(name="nominal", value=bus_v, unit="V"))
            yield found(
                "load-voltage-unlike", f"load:{load.key}", numbers=numbers,
                load=of_load(load), at=volts(load.at_v), nominal=volts(bus_v),
            )  # fmt: skip


def _switching(index: IndexedDesign) -> Iterator[Finding]:
    circuits = {circuit.number: circuit for circuit in index.design.circuits}
    for load in index.design.loads:
        if load.switching is Switching.LOW_SIDE:
            yield found("low-side-switched", f"load:{load.key}", load=of_load(load))
        elif load.switching is Switching.BRIDGE and load.circuit in circuits:
            node = index.nodes.get(circuits[load.circuit].return_node)
            if node is not None and node.kind in _NEGATIVES:
                yield found("bridge-returns-to-ground", f"load:{load.key}", load=of_load(load), node=of_node(node))


def _metal(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    reached = {number for feeding in network.feedings for number in feeding.column_of}
    for circuit in index.design.circuits:
        body = without_metal(index.nodes, circuit)
        if body is not None and circuit.number not in reached:
            yield found(
                "chassis-without-metal", f"circuit:{circuit.number}", where=of_circuit(circuit), body=of_node(body)
            )


def _shared_grounds(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """
    Said of each load that hears its ground, where what flashes, surges or turns round there moves it by more than the limit.

    The move is everything of that kind at once, over the way home that they share, at the data sheet's currents.
    """
    limit_v = index.numbers["ground-step"]
    home_ohm: dict[str, float] = {}
    for state in network.states:
        element_ohm, _ = state.resistances.at(max(case.conductor_temp_c for case in state.drops))
        for (key, _), ohm in zip(
            state.feeding.returns.names, (element_ohm @ state.feeding.return_ways**2).tolist(), strict=True
        ):
            home_ohm[key] = max(home_ohm.get(key, 0.0), ohm)
    of_ground: dict[str, list[Load]] = {}
    for circuit in index.design.circuits:
        of_ground.setdefault(circuit.return_node, []).extend(index.loads_of.get(circuit.number, ()))
    for key, loads in of_ground.items():
        node = index.nodes.get(key)
        if node is None or node.kind is not NodeKind.GROUND or key not in home_ohm:
            continue
        loud = [load for load in loads if _switches(load) and load.drop_class not in _HEARS]
        for load in (load for load in loads if load.drop_class in _HEARS):
            others = [other for other in loud if other.circuit != load.circuit]
            step_v = home_ohm[key] * sum(max(other.current_a, other.inrush_a) * other.quantity for other in others)
            if step_v > limit_v * (1 + _SAME):
                yield found(
                    "ground-shared", f"load:{load.key}",
                    numbers=(Number(name="step", value=step_v, unit="V"), Number(name="limit", value=limit_v, unit="V")),
                    load=of_load(load), node=of_node(node), others=listing(tuple(other.key for other in others)),
                    step=f"{1000 * step_v:.0f} mV", limit=f"{1000 * limit_v:.0f} mV",
                )  # fmt: skip


def _switches(load: Load) -> bool:
    return load.duty_ratio < 1 or load.inrush_a > load.current_a or load.switching is Switching.BRIDGE


def _variable(index: IndexedDesign) -> Iterator[Finding]:
    """What a source whose voltage the vehicle moves about does to isolators and to its own sensor."""
    for source in index.design.nodes:
        spec = source.alternator or source.source
        if spec is None or spec.low_v is None or spec.high_v is None or spec.low_v >= spec.high_v:
            continue
        if source.kind in (NodeKind.ALTERNATOR, NodeKind.DCDC):
            yield from _isolators(index, source, spec.low_v)
            yield from _past_sensor(index, source)


def _isolators(index: IndexedDesign, source: PowerNode, low_v: float) -> Iterator[Finding]:
    for node in index.design.nodes:
        if node.kind is NodeKind.ISOLATOR and low_v < _RELAY_OPENS_V:
            name = of_node(node)
            yield found(
                "isolator-under-variable-voltage", f"node:{node.key}",
                words={"name": name, "source": f"the {kind_words(source.kind)}", "low": volts(low_v)},
            )  # fmt: skip


def _past_sensor(index: IndexedDesign, source: PowerNode) -> Iterator[Finding]:
    """The build's own returns on a starting battery's post; the vehicle's own lead to its body is not one of them."""
    words = {"source": f"the {kind_words(source.kind)}"}
    posts = _posts_charged(index, source)
    for circuit in index.design.circuits:
        if circuit.return_node in posts:
            where, battery = of_circuit(circuit), circuit.return_node
            yield found(
                "battery-sensor-bypassed", f"circuit:{circuit.number}", where=where, battery=battery, words=words
            )
    for run in index.design.runs:
        ends = (run.from_node, run.to_node)
        far = [index.nodes[key] for key in ends if key in index.nodes and key not in posts]
        wired = far and (far[0].kind is NodeKind.BUS or (far[0].kind is NodeKind.GROUND and not far[0].chassis))
        if run.side is RunSide.RETURN and posts & set(ends) and wired:
            battery = next(key for key in ends if key in posts)
            yield found("battery-sensor-bypassed", f"run:{run.key}", where=of_run(run), battery=battery, words=words)


def _posts_charged(index: IndexedDesign, source: PowerNode) -> set[str]:
    """The batteries that a source is wired to, over buses and disconnects, past no isolator, converter or other battery."""
    steps = run_steps(index.design, RunSide.SUPPLY)
    batteries = {node.key for node in index.batteries()}
    shut = {node.key for node in index.design.nodes if node.kind is NodeKind.ISOLATOR or node.converter is not None}
    met, waiting = {source.key}, [source.key]
    while waiting:
        here = waiting.pop()
        onward = set(steps.get(here, ())) - met - shut if here not in batteries else set()
        met |= onward
        waiting.extend(onward)
    return met & batteries


def _opened_running(index: IndexedDesign) -> Iterator[Finding]:
    said: set[str] = set()
    for condition in index.design.conditions:
        for key in condition.open_nodes if engine_runs(condition.source_state) else ():
            node = index.nodes.get(key)
            if node is not None and node.kind is NodeKind.DISCONNECT and key not in said:
                said.add(key)
                name = of_node(node)
                yield found("disconnect-opened-running", f"node:{key}", name=name, condition=of_condition(condition))


def _unfed_runs(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """A run that hangs on a converter without a feed is that converter's fault."""
    reached = {node for feeding in network.feedings for node in feeding.supply_tree.root_of}
    made = {node.key for node in index.design.nodes if node.converter is not None}
    for run in index.design.runs:
        ends = {run.from_node, run.to_node, *(input_node(key) for key in (run.to_node,) if key in made)}
        if run.side is RunSide.SUPPLY and not ends & (reached | made):
            yield found("run-not-fed", f"run:{run.key}", where=of_run(run))
