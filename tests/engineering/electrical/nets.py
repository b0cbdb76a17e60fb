"""Distributions to test on: reference nets solved elsewhere, short ways to draw one, and made ones."""

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from hypothesis import strategies as st

from builds.engineering.electrical.network import (
    Network,
    NetworkBranch,
    NetworkConverter,
    NetworkLoad,
    NetworkSource,
    build_network,
)
from builds.engineering.electrical.network_result import NetworkResult
from builds.engineering.electrical.network_solver import solve_network
from builds.engineering.vocabulary import LoadModel

# Ohms per 1000 ft of solid copper at 20 °C, as the reference nets were solved with.
OHM_PER_KFT = {"4": 0.2485, "8": 0.6282, "10": 0.9989, "12": 1.588, "14": 2.525, "16": 4.016}


def wire(key: str, from_node: str, to_node: str, gauge: str, length_ft: float) -> NetworkBranch:
    return branch(key, from_node, to_node, OHM_PER_KFT[gauge] * length_ft / 1000)


def branch(key: str, from_node: str, to_node: str, ohm: float) -> NetworkBranch:
    return NetworkBranch(key=key, from_node=from_node, to_node=to_node, resistance_ohm=ohm)


def load(
    key: str, supply: str, back: str, model: LoadModel, amperes: float, *, at_v: float = 12.0, min_v: float = 0.0
) -> NetworkLoad:
    return NetworkLoad(
        key=key, supply_node=supply, return_node=back, model=model, current_a=amperes, at_v=at_v, min_v=min_v
    )


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """A distribution as data, so that a test can change it before it is built."""

    branches: tuple[NetworkBranch, ...]
    loads: tuple[NetworkLoad, ...]
    emf_v: float = 13.6
    source_ohm: float = 0.0
    sources: tuple[NetworkSource, ...] = (NetworkSource(key="battery", positive_node="+", negative_node="-"),)
    converters: tuple[NetworkConverter, ...] = ()

    def build(self) -> Network:
        return build_network(sources=self.sources, branches=self.branches, loads=self.loads, converters=self.converters)

    def solve(
        self,
        *,
        emf_v: Sequence[float] | None = None,
        scale: Sequence[float] | None = None,
        **ends: Sequence[float],
    ) -> NetworkResult:
        """
        All loads on, in one condition, unless told otherwise.

        ``emf_v`` is one voltage of all sources a condition; ``each_v``, ``each_ohm``, ``limit_a`` and ``intake_a`` are one
        figure a source, in all conditions.
        """
        volts = [self.emf_v] if emf_v is None else list(emf_v)
        on = np.ones(len(self.loads)) if scale is None else np.array(scale)
        count = len(volts)

        def each(name: str, otherwise: np.ndarray) -> np.ndarray:
            return np.tile(np.array(ends[name])[:, None], (1, count)) if name in ends else otherwise

        return solve_network(
            self.build(),
            emf_v=each("each_v", np.tile(volts, (len(self.sources), 1))),
            source_ohm=each("each_ohm", np.full((len(self.sources), count), self.source_ohm)),
            load_scale=np.tile(on[:, None], (1, count)),
            **{name: each(name, np.empty(0)) for name in ("limit_a", "intake_a") if name in ends},
        )

    def scaled(self, factor: float) -> "Drawing":
        """The same with every load asking ``factor`` times as much."""
        loads = tuple(replace(one, current_a=factor * one.current_a) for one in self.loads)
        return replace(self, loads=loads)


BRANCHES = (("L1", "14", 15.0), ("L2", "16", 20.0), ("L3", "10", 10.0))

# Two-wire tree, ideal source, constant currents.
NET_A = Drawing(
    branches=(
        wire("feed", "+", "D", "4", 12),
        wire("feed back", "-", "D-", "4", 12),
        *(wire(key, "D", key, gauge, feet) for key, gauge, feet in BRANCHES),
        *(wire(f"{key} back", "D-", f"{key}-", gauge, feet) for key, gauge, feet in BRANCHES),
    ),
    loads=tuple(load(k, k, f"{k}-", LoadModel.CONSTANT_CURRENT, a) for k, a in (("L1", 10), ("L2", 5), ("L3", 20))),
)

# Resistive loads with one chassis node as their shared way back, source with internal resistance.
NET_B = Drawing(
    branches=(
        wire("feed", "+", "D", "4", 12),
        branch("chassis", "-", "G", 0.002),
        *(wire(key, "D", key, gauge, feet) for key, gauge, feet in BRANCHES),
    ),
    loads=tuple(
        load(k, k, "G", LoadModel.RESISTIVE, 12 / ohm) for k, ohm in (("L1", 1.36), ("L2", 2.72), ("L3", 0.68))
    ),
    source_ohm=0.008,
)

# A ring: bus bar, distribution panel and module, each joined to the others, the first two twice. Single-leg resistances.
NET_C = Drawing(
    branches=(
        wire("a", "bp", "dp", "8", 10),
        wire("b", "bp", "dp", "10", 12),
        wire("c", "dp", "m", "12", 6),
        wire("d", "bp", "m", "12", 14),
    ),
    loads=(
        load("dp", "dp", "-", LoadModel.CONSTANT_CURRENT, 40),
        load("m", "m", "-", LoadModel.CONSTANT_CURRENT, 8),
    ),
    emf_v=13.2,
    sources=(NetworkSource(key="battery", positive_node="bp", negative_node="-"),),
)

# One constant-power load of 120 W at the end of 25 ft each way.
NET_D = Drawing(
    branches=(wire("out", "+", "P", "12", 25), wire("back", "-", "P-", "12", 25)),
    loads=(load("P", "P", "P-", LoadModel.CONSTANT_POWER, 10),),
    emf_v=13.2,
)


def made_drawing(seed: int, *, models: Sequence[LoadModel] = tuple(LoadModel), loads: int | None = None) -> Drawing:
    """A random radial distribution with shared feeders, a branched return, and a modest total."""
    rng = random.Random(seed)
    branches, supply, back = [], ["+"], ["-"]
    for number in range(rng.randint(1, 6)):
        branches.append(branch(f"f{number}", rng.choice(supply), f"n{number}", rng.uniform(0.0005, 0.004)))
        supply.append(f"n{number}")
    for number in range(rng.randint(1, 5)):
        branches.append(branch(f"s{number}", rng.choice(back), f"g{number}", rng.uniform(0.0002, 0.004)))
        back.append(f"g{number}")
    count = loads or rng.randint(1, 9)
    parts = []
    for number in range(count):
        amperes = rng.uniform(0.2, 30 / count)
        # a larger load has a larger wire: up to 0.6 V out and 0.4 V back, so that no net is near collapse
        branches.append(branch(f"c{number}", rng.choice(supply), f"c{number}+", rng.uniform(0.02, 0.6) / amperes))
        branches.append(branch(f"r{number}", rng.choice(back), f"c{number}-", rng.uniform(0.01, 0.4) / amperes))
        parts.append(
            load(
                f"l{number}",
                f"c{number}+",
                f"c{number}-",
                rng.choice(models),
                amperes,
                at_v=rng.choice([12.0, 12.8, 13.6]),
            )
        )
    rng.shuffle(branches)
    return Drawing(
        branches=tuple(branches), loads=tuple(parts), emf_v=rng.uniform(11.5, 14.6), source_ohm=rng.uniform(0, 0.01)
    )


def made_mesh(seed: int, *, models: Sequence[LoadModel] = tuple(LoadModel), loads: int | None = None) -> Drawing:
    """The same with rings: links between feeders, second straps, and conductors side by side."""
    plain, rng = made_drawing(seed, models=models, loads=loads), random.Random(seed + 1)
    nodes = sorted({end for part in plain.branches for end in (part.from_node, part.to_node)})
    sides = [[n for n in nodes if n == "+" or n[0] == "n"], [n for n in nodes if n == "-" or n[0] == "g"]]
    more = []
    for number in range(rng.randint(1, 6)):
        one, other = rng.choices(rng.choice(sides), k=2)
        if one != other:
            more.append(branch(f"x{number}", one, other, rng.uniform(0.0005, 0.02)))
    more += [
        replace(part, key=f"{part.key} twin", resistance_ohm=part.resistance_ohm * rng.uniform(0.5, 2))
        for part in rng.sample(plain.branches, k=min(2, len(plain.branches)))
    ]
    return replace(plain, branches=(*plain.branches, *more))


def vehicle(circuits: int, *, panels: int, models: Sequence[LoadModel] = tuple(LoadModel)) -> Drawing:
    """
    A vehicle of 150 A: battery, disconnect, bus, panels, a body with straps and studs, each load on wires of its own.

    Every fourth panel has a second feed from its neighbour and every fourth stud a second strap, so there are rings on both
    sides. Wires are as thick as their loads ask: 0.1 V out and 0.04 V back.
    """
    branches = [
        branch("cable", "+", "off", 0.0004),
        branch("off", "off", "bus", 0.0002),
        branch("strap", "-", "body", 0.0004),
    ]
    for number in range(panels):
        branches.append(branch(f"f{number}", "bus", f"p{number}", 0.0001 * panels))
        branches.append(branch(f"s{number}", "body", f"g{number}", 0.000025 * panels))
        if number % 4 == 1:
            branches.append(branch(f"link {number}", f"p{number - 1}", f"p{number}", 0.0001 * panels))
            branches.append(branch(f"strap {number}", f"g{number - 1}", f"g{number}", 0.00002 * panels))
    loads = []
    for number in range(circuits):
        amperes = (0.3 + (number * 7 % 11) / 10) * 187.5 / circuits
        branches.append(branch(f"c{number}", f"p{number % panels}", f"c{number}+", 0.1 / amperes))
        branches.append(branch(f"r{number}", f"g{number % panels}", f"c{number}-", 0.04 / amperes))
        loads.append(load(f"l{number}", f"c{number}+", f"c{number}-", models[number % len(models)], amperes))
    return Drawing(branches=tuple(branches), loads=tuple(loads))


seeds = st.integers(0, 2**32 - 1)
drawings = st.one_of(seeds.map(made_drawing), seeds.map(made_mesh))


def drawings_of(*models: LoadModel) -> st.SearchStrategy[Drawing]:
    """Trees and meshes with loads of some kinds alone."""
    return st.builds(lambda make, seed: make(seed, models=models), st.sampled_from([made_drawing, made_mesh]), seeds)


resistive_drawings = drawings_of(LoadModel.RESISTIVE)
constant_current_drawings = drawings_of(LoadModel.CONSTANT_CURRENT)
linear_drawings = drawings_of(LoadModel.CONSTANT_CURRENT, LoadModel.RESISTIVE)
