"""How long a whole vehicle takes: edits are answered while somebody waits."""

import time

import numpy as np

from builds.engineering.electrical.network import Network
from builds.engineering.electrical.network_solver import solve_network
from builds.engineering.vocabulary import LoadModel
from tests.engineering.electrical.nets import Drawing, branch, load


def vehicle(circuits: int, *, panels: int = 8, studs: int = 10) -> Network:
    """Battery, disconnect, bus, panels; loads of all three kinds; a body with straps and studs."""
    branches = [
        branch("cable", "+", "off", 0.0004),
        branch("off", "off", "bus", 0.0002),
        branch("strap", "-", "body", 0.0004),
    ]
    branches += [branch(f"f{p}", "bus", f"p{p}", 0.002) for p in range(panels)]
    branches += [branch(f"s{s}", "body", f"g{s}", 0.0005) for s in range(studs)]
    loads = []
    for c in range(circuits):
        branches.append(branch(f"c{c}", f"p{c % panels}", f"c{c}+", 0.03))
        branches.append(branch(f"r{c}", f"g{c % studs}", f"c{c}-", 0.01))
        loads.append(
            load(f"l{c}", f"c{c}+", f"c{c}-", list(LoadModel)[c % 3], 0.3 + (c * 7 % 11) / 10 * 250 / circuits)
        )
    return Drawing(branches=tuple(branches), loads=tuple(loads)).build()


def best_ms(network: Network, conditions: int, tries: int) -> float:
    rng = np.random.default_rng(5)
    scale = (rng.random((len(network.loads), conditions)) < 0.7).astype(float)
    emf, ohm = np.linspace(11.5, 14.2, conditions), np.full(conditions, 0.004)
    times = []
    for _ in range(tries):
        start = time.perf_counter()
        result = solve_network(network, emf_v=emf, source_ohm=ohm, load_scale=scale)
        times.append(time.perf_counter() - start)
        assert not result.no_operating_point
    return 1000 * min(times)


def test_120_circuits_in_6_conditions_take_at_most_2_ms() -> None:
    # best of many, so that other work on the machine does not decide; 0.7 ms where this was written
    assert best_ms(vehicle(120), 6, tries=60) <= 2.0


def test_400_circuits_in_12_conditions_take_at_most_6_ms() -> None:
    # 1.5 ms where this was written
    assert best_ms(vehicle(400, panels=20, studs=20), 12, tries=30) <= 6.0
