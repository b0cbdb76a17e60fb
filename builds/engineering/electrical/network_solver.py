"""
Voltages and currents of a distribution under all its conditions at once.

Each sweep adds up the currents, subtracts the drops, and lets every load answer with what it takes at the voltage it is
left with. A load's own way is solved exactly within the sweep (a quadratic for constant power, whose *upper* root is
taken), so only what loads share has to settle: a feeder that loses 4 % gains more than a digit a sweep. A condition
that has not settled after twelve sweeps is near collapse, past it, or has no like in a vehicle; it goes to
:mod:`~builds.engineering.electrical.network_collapse`, which decides.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from builds.engineering.electrical.network import Network
from builds.engineering.electrical.network_collapse import Collapsed, Laws, solve_dense
from builds.engineering.electrical.network_forest import Floats
from builds.engineering.electrical.network_result import NetworkResult, NoOperatingPoint
from builds.engineering.errors import OutOfRange

__all__ = ["RESIDUAL_A", "solve_network"]

# A load's current agrees with what it takes at its solved voltage to this.
RESIDUAL_A = 1e-9
_MOST_SWEEPS = 12
# Below this part of the source's voltage a sweep's guess is held, so that a constant power stays finite on the way.
_LOWEST_GUESS_RATIO = 0.02

Bools = NDArray[np.bool_]


@dataclass(slots=True)
class _State:
    """What is known while conditions are being solved: loads × conditions, solving order."""

    load_a: Floats
    load_v: Floats
    scale: Floats
    cut_out: Bools
    settled: Bools
    sweeps: int
    collapses: dict[int, Collapsed]


def solve_network(network: Network, *, emf_v: ArrayLike, source_ohm: ArrayLike, load_scale: ArrayLike) -> NetworkResult:
    """
    Return the distribution's voltages and currents in every condition.

    Parameters
    ----------
    network : Network
        From :func:`~builds.engineering.electrical.network.build_network`.
    emf_v : array-like, sources × conditions
        Open voltage of each source, above 0; one row may be left out for a single source. [V]
    source_ohm : array-like, sources × conditions
        Internal resistance of each source, at least 0. [Ω]
    load_scale : array-like, loads × conditions
        How much of each load is on, in the order of ``network.loads``: 0 off, 1 one of it, 3 three of it. [1]

    Returns
    -------
    NetworkResult
        Read-only arrays in the caller's order. A condition without an operating point has NaN throughout and is named in
        ``no_operating_point``.

    Raises
    ------
    OutOfRange
        If an array has the wrong shape, is not finite, or holds a value outside its range.

    Notes
    -----
    Guarantee: in every solved condition each load's current is within 1e-9 A of what it takes at its terminal voltage,
    and currents sum exactly at every node. A load found below its ``min_v`` is switched off and the rest solved again,
    the one furthest below first.
    """
    emf, ohm, scale = _checked(network, emf_v, source_ohm, load_scale)
    state = _empty_state(network, scale)
    waiting = np.arange(scale.shape[1])
    while waiting.size:
        _solve_conditions(network, emf, ohm, state, waiting)
        waiting = waiting[_cut_out(network, state, waiting)]
    return _result(network, emf, ohm, state)


def _checked(
    network: Network, emf_v: ArrayLike, source_ohm: ArrayLike, load_scale: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    emf = np.atleast_2d(np.asarray(emf_v, dtype=np.float64))
    ohm = np.atleast_2d(np.asarray(source_ohm, dtype=np.float64))
    scale = np.asarray(load_scale, dtype=np.float64)
    conditions = emf.shape[1]
    _check_array("emf_v", emf, (len(network.sources), conditions), 1e-3)
    _check_array("source_ohm", ohm, (len(network.sources), conditions), 0.0)
    _check_array("load_scale", scale, (len(network.loads), conditions), 0.0)
    return emf, ohm, scale[network.order]


def _check_array(name: str, values: Floats, shape: tuple[int, int], least: float) -> None:
    if values.shape != shape:
        raise OutOfRange(name, values.shape, f"an array of shape {shape}")
    if values.size and not (np.isfinite(values).all() and values.min() >= least):
        raise OutOfRange(name, "an array", f"finite and at least {least:g} throughout")


def _empty_state(network: Network, scale: Floats) -> _State:
    shape = scale.shape
    return _State(
        load_a=np.zeros(shape),
        load_v=np.full(shape, np.nan),
        scale=scale.copy(),
        cut_out=np.zeros(shape, dtype=np.bool_),
        settled=np.zeros(shape[1], dtype=np.bool_),
        sweeps=0,
        collapses={},
    )


def _solve_conditions(network: Network, emf: Floats, ohm: Floats, state: _State, at: NDArray[np.int64]) -> None:
    """Solve the conditions ``at``: by sweeps, and densely where those do not settle."""
    laws = Laws.of(network, state.scale[:, at])
    source_ohm, source_v = ohm[:, at], emf[:, at]
    amps, volts, settled, sweeps = _sweep(network, laws, source_v, source_ohm)
    state.sweeps = max(state.sweeps, sweeps)
    for condition in at:
        state.collapses.pop(int(condition), None)
    for column in map(int, np.flatnonzero(~settled)):
        found = solve_dense(network, laws.column(column), source_v[:, column], source_ohm[:, column])
        if isinstance(found, Collapsed):
            state.collapses[int(at[column])] = found
        else:
            amps[:, column], volts[:, column], settled[column] = found.load_a, found.load_v, True
    state.load_a[:, at], state.load_v[:, at], state.settled[at] = amps, volts, settled


def _sweep(network: Network, laws: Laws, emf: Floats, ohm: Floats) -> tuple[Floats, Floats, Bools, int]:
    """Sweep until every condition has settled or twelve times; return amperes, volts, which settled, how many sweeps."""
    load_emf, load_ohm = emf[network.source_of_load], ohm[network.source_of_load]
    own_ohm = network.own_ohm[:, None] + load_ohm
    lowest_v = _LOWEST_GUESS_RATIO * load_emf
    amps = laws.currents_a(load_emf)
    sweeps = 0
    while True:
        sweeps += 1
        lost_v = network.drops_v(amps) + load_ohm * network.source_totals_a(amps)[network.source_of_load]
        volts = load_emf - lost_v
        taken = laws.currents_a(np.maximum(volts, lowest_v))
        wrong = np.abs(taken - amps).max(axis=0, initial=0.0) > RESIDUAL_A / 2
        collapsed = (volts <= 0.0).any(axis=0)
        if not (wrong | collapsed).any() or sweeps == _MOST_SWEEPS:
            break
        amps = laws.currents_behind_a(volts + own_ohm * amps, own_ohm, lowest_v)
    return amps, volts, ~(wrong | collapsed), sweeps


def _cut_out(network: Network, state: _State, at: NDArray[np.int64]) -> Bools:
    """Switch off one load in each condition of ``at`` that needs it; return in which conditions something went off."""
    min_v = network.min_v
    if not min_v.any():
        return np.zeros(at.shape, dtype=np.bool_)
    on = (state.scale[:, at] > 0) & (min_v > 0)
    short_v = np.where(on, min_v - state.load_v[:, at], -np.inf)
    for column in np.flatnonzero(~state.settled[at]):
        # Falling into collapse, the load with the highest cut-out goes off first.
        short_v[:, column] = np.where(on[:, column], min_v[:, 0], -np.inf)
    worst = short_v.argmax(axis=0)
    columns = np.arange(at.size)
    off: Bools = short_v[worst, columns] > RESIDUAL_A
    state.scale[worst[off], at[off]] = 0.0
    state.cut_out[worst[off], at[off]] = True
    return off


def _result(network: Network, emf: Floats, ohm: Floats, state: _State) -> NetworkResult:
    unsolved = ~state.settled
    state.load_a[:, unsolved] = state.load_v[:, unsolved] = np.nan
    current, drop = network.sweep(state.load_a)
    source_a = network.source_totals_a(state.load_a)
    terminal_v = emf - ohm * source_a
    caller = np.argsort(network.order)
    return NetworkResult(
        network=network,
        load_a=state.load_a[caller],
        load_v=state.load_v[caller],
        cut_out=state.cut_out[caller],
        source_a=source_a,
        emf_v=emf.copy(),
        terminal_v=terminal_v,
        through_a=current,
        drop_v=drop,
        no_operating_point=tuple(
            NoOperatingPoint.of(network, state.collapses[c], c, state.scale[:, c]) for c in sorted(state.collapses)
        ),
        sweeps=state.sweeps,
    )
