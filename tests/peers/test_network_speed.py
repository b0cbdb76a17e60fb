"""
How long a whole vehicle takes: edits are answered while somebody waits.

Processor time, best of several, so that other work on the machine does not decide. Beside each limit stands what it was where
this was written; peers on the same nets are printed by the benchmark.
"""

import time

import numpy as np

from builds.engineering.electrical.network import Network
from builds.engineering.electrical.network_result import NetworkResult
from builds.engineering.electrical.network_solver import solve_network
from builds.engineering.vocabulary import LoadModel
from tests.engineering.electrical.nets import vehicle


def solve(network: Network, scale: np.ndarray, emf_v: np.ndarray) -> NetworkResult:
    return solve_network(network, emf_v=emf_v, source_ohm=np.full(len(emf_v), 0.004), load_scale=scale)


def best_ms(network: Network, *, tries: int, scale: np.ndarray, emf_v: np.ndarray) -> float:
    times = []
    for _ in range(tries):
        start = time.process_time()
        assert not solve(network, scale, emf_v).no_operating_point
        times.append(time.process_time() - start)
    return 1000 * min(times)


def usual_ms(circuits: int, conditions: int, *, panels: int, tries: int) -> float:
    """Seven loads of ten on, of all three kinds, 150 A, with rings on both sides."""
    on = (np.random.default_rng(5).random((circuits, conditions)) < 0.7).astype(float)
    network = vehicle(circuits, panels=panels).build()
    return best_ms(network, tries=tries, scale=on, emf_v=np.linspace(11.5, 14.2, conditions))


def test_400_circuits_in_12_conditions_take_at_most_4_ms_and_ten_times_as_many_at_most_12_times_as_long() -> None:
    few = many = float("inf")
    for _ in range(6):  # in turn, so that work beside it meets both; the best of each counts
        few = min(few, usual_ms(400, 12, panels=20, tries=30))
        many = min(many, usual_ms(4000, 12, panels=200, tries=8))

    assert few <= 4.0  # 2.1
    assert many <= 12 * few  # 5.5 times


def test_400_circuits_at_0_999_of_the_largest_load_take_at_most_20_ms() -> None:
    network = vehicle(400, panels=20, models=[LoadModel.CONSTANT_POWER]).build()
    ones, emf_v = np.ones((400, 12)), np.full(12, 12.0)
    most, width = 1.0, 16.0
    for _ in range(7):
        width /= 16
        tried = np.repeat((most + width * np.arange(1, 16))[None, :], 400, axis=0)
        most += width * (15 - len(solve(network, tried, np.full(15, 12.0)).no_operating_point))

    assert len(solve(network, 1.001 * most * ones, emf_v).no_operating_point) == 12
    assert best_ms(network, tries=10, scale=0.999 * most * ones, emf_v=emf_v) <= 20.0  # 4.1
