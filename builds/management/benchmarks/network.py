"""
The solved distribution beside ngspice and beside a sparse LU factorisation, on the same vehicles.

Four hundred loads of all three kinds in twelve conditions, with rings on both sides. The peers get what helps them: ngspice
solves one condition after the other in one process, which is its quickest way; the sparse matrix is factorised once for all
conditions, its sweeps stop where ours do, and nothing is asked of it but node voltages, load and branch currents. What is
read once for a drawing (our trees, the peer's list of matrix entries) is counted on neither side and printed for ours.
"""

import resource
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from builds.engineering.electrical.network import Network, NetworkBranch, NetworkLoad, NetworkSource, build_network
from builds.engineering.electrical.network_result import NetworkResult
from builds.engineering.electrical.network_solver import RESIDUAL_A, solve_network
from builds.engineering.vocabulary import LoadModel
from builds.management.benchmarks import Figure

__all__ = ["measure"]

Floats = NDArray[np.float64]

LOADS, MANY, CONDITIONS, PANELS = 400, 4000, 12, 20
SOURCE_OHM, TOTAL_A = 0.004, 150.0
MOST_MS, MOST_NEAR_MS, MOST_TIMES = 4.0, 20.0, 12.0
LEAST_NGSPICE, LEAST_LU = 30.0, 1.0


@dataclass(frozen=True, slots=True)
class _Vehicle:
    """A distribution and the conditions it is solved in."""

    network: Network
    emf_v: Floats
    scale: Floats

    def solve(self, ratio: float = 1.0) -> NetworkResult:
        """Solve all conditions with every load ``ratio`` times as large."""
        ohm = np.full(CONDITIONS, SOURCE_OHM)
        return solve_network(self.network, emf_v=self.emf_v, source_ohm=ohm, load_scale=ratio * self.scale)


def measure(say: Callable[[str], None]) -> list[Figure]:
    """Return our milliseconds and how many times as long the peers take; a peer that is not installed is left out."""
    usual, many = _vehicle(LOADS, PANELS), _vehicle(MANY, 10 * PANELS)
    ours_ms, many_ms = _best_ms(usual.solve, 60), _best_ms(many.solve, 15)
    say(f"{LOADS} loads, {CONDITIONS} conditions, {usual.solve().sweeps} sweeps")
    heavy = _vehicle(LOADS, PANELS, models=(LoadModel.CONSTANT_POWER,))
    most = _largest_ratio(heavy)
    near_ms = _best_ms(lambda: heavy.solve(0.999 * most), 10)
    return [
        Figure(name="400 loads, 12 conditions", value=ours_ms, unit="ms", most=MOST_MS),
        Figure(name="reading 400 loads into trees", value=_best_ms(lambda: _vehicle(LOADS, PANELS), 3), unit="ms"),
        Figure(name="at 0.999 of the largest load", value=near_ms, unit="ms", most=MOST_NEAR_MS),
        Figure(name="4,000 loads, as many times as long", value=many_ms / ours_ms, unit="", most=MOST_TIMES),
        *_beside_ngspice(usual, ours_ms, say),
        *_beside_lu(usual, ours_ms, say),
    ]


def _vehicle(loads: int, panels: int, models: tuple[LoadModel, ...] = tuple(LoadModel)) -> _Vehicle:
    """Battery, disconnect, bus, panels and a chassis with studs, every fourth of them joined to its neighbour."""
    parts = [("cable", "+", "off", 0.0004), ("off", "off", "bus", 0.0002), ("strap", "-", "body", 0.0004)]
    for at in range(panels):
        parts += [(f"f{at}", "bus", f"p{at}", 0.0001 * panels), (f"s{at}", "body", f"g{at}", 0.000025 * panels)]
        if at % 4 == 1:
            parts.append((f"link{at}", f"p{at - 1}", f"p{at}", 0.0001 * panels))
            parts.append((f"strap{at}", f"g{at - 1}", f"g{at}", 0.00002 * panels))
    drawn = []
    for at in range(loads):
        amperes = (0.3 + (at * 7 % 11) / 10) * 1.25 * TOTAL_A / loads
        parts += [
            (f"c{at}", f"p{at % panels}", f"c{at}+", 0.1 / amperes),
            (f"r{at}", f"g{at % panels}", f"c{at}-", 0.04 / amperes),
        ]
        drawn.append(
            NetworkLoad(
                key=f"l{at}", supply_node=f"c{at}+", return_node=f"c{at}-",
                model=models[at % len(models)], current_a=amperes, at_v=12.0,
            )
        )  # fmt: skip
    network = build_network(
        sources=[NetworkSource(key="battery", positive_node="+", negative_node="-")],
        branches=[NetworkBranch(key=k, from_node=a, to_node=b, resistance_ohm=ohm) for k, a, b, ohm in parts],
        loads=drawn,
    )
    on = (np.random.default_rng(5).random((loads, CONDITIONS)) < 0.7).astype(float)
    return _Vehicle(network, np.linspace(11.5, 14.2, CONDITIONS), on)


def _best_ms(run: Callable[[], object], rounds: int) -> float:
    """Processor time of this process and of those it starts and waits for, best of several."""
    taken = []
    for _ in range(rounds):
        started = _processor_s()
        run()
        taken.append((_processor_s() - started) * 1000)
    return min(taken)


def _processor_s() -> float:
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def _largest_ratio(vehicle: _Vehicle) -> float:
    """The largest size of all loads at which every condition still has an operating point."""
    below, above = 1.0, 16.0
    for _ in range(30):
        middle = (below + above) / 2
        below, above = (below, middle) if vehicle.solve(middle).no_operating_point else (middle, above)
    return below


def _beside_ngspice(vehicle: _Vehicle, ours_ms: float, say: Callable[[str], None]) -> list[Figure]:
    program = shutil.which("ngspice")
    if program is None:
        say("ngspice is not installed: not compared")
        return []
    with tempfile.TemporaryDirectory() as folder:
        command = [program, "-b", str(_write_decks(vehicle, Path(folder)))]
        theirs_ms = _best_ms(lambda: subprocess.run(command, capture_output=True, timeout=120, check=True), 3)
        printed = subprocess.run(command, capture_output=True, timeout=120, check=True, text=True).stdout
    theirs_a = np.array([-float(line.split("=")[1]) for line in printed.splitlines() if line.startswith("v0#branch")])
    differ = float(np.abs(theirs_a / vehicle.solve().source_a[0] - 1).max())
    say(f"ngspice: {theirs_ms:.0f} ms; source currents differ by {differ:.0e} of them")
    return [
        Figure(name="ngspice, as many times as long", value=theirs_ms / ours_ms, unit="", least=LEAST_NGSPICE),
        Figure(name="source currents beside ngspice's, part that differs", value=differ, unit="", most=1e-6),
    ]


def _write_decks(vehicle: _Vehicle, folder: Path) -> Path:
    """A deck a condition, and the one that has them solved one after the other in one process, which is its quickest way."""
    steps = []
    for condition, (emf_v, on) in enumerate(zip(vehicle.emf_v.tolist(), vehicle.scale.T, strict=True)):
        deck = folder / f"condition{condition}.cir"
        deck.write_text(_deck(vehicle.network, emf_v, on), encoding="ascii")
        steps += [f"source {deck}", "op", "print v0#branch"]
    whole = folder / "all.cir"
    lines = ["all conditions", ".control", "set numdgt=12", *steps, "quit 0", ".endc", ".end", ""]
    whole.write_text("\n".join(lines), encoding="ascii")
    return whole


def _deck(network: Network, emf_v: float, on: Floats) -> str:
    """One condition; constant power starts from the source's voltage, on its upper root."""
    lines = ["distribution", ".options reltol=1e-9 abstol=1e-12 vntol=1e-12 gmin=1e-15 itl1=500"]
    lines += [f"V0 emf 0 DC {emf_v!r}", f"Rs emf {_node('+')} {SOURCE_OHM!r}"]
    for at, part in enumerate(network.branches):
        lines.append(f"Rb{at} {_node(part.from_node)} {_node(part.to_node)} {part.resistance_ohm!r}")
        if not part.key.startswith(("s", "r")):
            lines.append(f".nodeset v({_node(part.to_node)})={emf_v!r}")
    lines += [_load_line(f"l{at}", load, emf_v) for at, load in enumerate(network.loads) if on[at]]
    return "\n".join([*lines, ".end", ""])


def _node(name: str) -> str:
    return "0" if name == "-" else f"n_{name.replace('+', 'p').replace('-', 'm')}"


def _load_line(name: str, load: NetworkLoad, emf_v: float) -> str:
    plus, minus = _node(load.supply_node), _node(load.return_node)
    match load.model:
        case LoadModel.CONSTANT_CURRENT:
            return f"I{name} {plus} {minus} DC {load.current_a!r}"
        case LoadModel.RESISTIVE:
            return f"R{name} {plus} {minus} {load.at_v / load.current_a!r}"
        case LoadModel.CONSTANT_POWER:
            return f"B{name} {plus} {minus} I={load.current_a * load.at_v!r}/max(v({plus})-v({minus}),{0.3 * emf_v!r})"


def _beside_lu(vehicle: _Vehicle, ours_ms: float, say: Callable[[str], None]) -> list[Figure]:
    try:
        sparse, linalg = import_module("scipy.sparse"), import_module("scipy.sparse.linalg")
    except ImportError:
        say("scipy is not installed: not compared")
        return []
    rows, columns, entries, at = _conductances(vehicle.network)
    matrix = sparse.csc_matrix((entries, (rows, columns)), shape=(len(at), len(at)))

    at["-"] = len(at)
    ends = [np.array([at[end] for end in pair]) for pair in _ends(vehicle.network)]
    siemens = np.array([[1 / part.resistance_ohm] for part in vehicle.network.branches])

    def solve() -> tuple[Floats, Floats]:
        node_v, load_v = _swept(vehicle, at, linalg.splu(matrix).solve)
        return load_v, siemens * (node_v[ends[0]] - node_v[ends[1]])

    theirs_ms = _best_ms(solve, 60)
    differ = float(np.abs(solve()[0] - vehicle.solve().load_v).max())
    say(f"sparse LU: {theirs_ms:.1f} ms; load voltages differ by {differ:.0e} V")
    return [Figure(name="sparse LU, as many times as long", value=theirs_ms / ours_ms, unit="", least=LEAST_LU)]


def _conductances(network: Network) -> tuple[list[int], list[int], list[float], dict[str, int]]:
    """The nodal matrix as triplets, the battery's negative post left out, its own resistance between its posts."""
    names = dict.fromkeys(end for part in network.branches for end in (part.from_node, part.to_node))
    at = {name: row for row, name in enumerate(name for name in names if name != "-")}
    rows, columns, siemens = [at["+"]], [at["+"]], [1 / SOURCE_OHM]
    for part in network.branches:
        ends = [at[end] for end in (part.from_node, part.to_node) if end != "-"]
        for one in ends:
            for other in ends:
                rows.append(one)
                columns.append(other)
                siemens.append((1.0 if one == other else -1.0) / part.resistance_ohm)
    return rows, columns, siemens, at


def _ends(network: Network) -> tuple[list[str], list[str]]:
    return [part.from_node for part in network.branches], [part.to_node for part in network.branches]


def _swept(vehicle: _Vehicle, at: dict[str, int], solve: Callable[[Floats], Floats]) -> tuple[Floats, Floats]:
    """Sweeps with the factorised matrix, all conditions at once, until every current agrees; node and load voltages."""
    network, ground = vehicle.network, at["-"]
    supply = np.array([at[load.supply_node] for load in network.loads])
    back = np.array([at[load.return_node] for load in network.loads])
    current_a, siemens, power_w = (part * vehicle.scale for part in network.demand)
    volts = np.repeat(vehicle.emf_v[None, :], len(supply), axis=0)
    amps = current_a + siemens * volts + power_w / volts
    node_v = np.zeros((ground + 1, CONDITIONS))
    while True:
        drawn = np.zeros((ground, CONDITIONS))
        drawn[supply] -= amps
        drawn[back] += amps
        drawn[at["+"]] += vehicle.emf_v / SOURCE_OHM
        node_v[:ground] = solve(drawn)
        volts = node_v[supply] - node_v[back]
        after = current_a + siemens * volts + power_w / volts
        if np.abs(after - amps).max() <= RESIDUAL_A / 2:
            return node_v, volts
        amps = after
