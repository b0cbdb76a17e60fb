"""The door of the solved distribution: what conditions are solved with is checked here, and what they come to is packed."""

import numpy as np
from numpy.typing import ArrayLike

from builds.engineering.electrical.network import Network
from builds.engineering.electrical.network_blame import largest_ratio, load_to_blame
from builds.engineering.electrical.network_conditions import RESIDUAL_A, Conditions, Given
from builds.engineering.electrical.network_laws import Bools
from builds.engineering.electrical.network_result import NetworkResult, NoOperatingPoint
from builds.engineering.electrical.network_rings import Floats
from builds.engineering.errors import OutOfRange

__all__ = ["RESIDUAL_A", "solve_network"]


def solve_network(
    network: Network,
    *,
    emf_v: ArrayLike,
    source_ohm: ArrayLike,
    load_scale: ArrayLike,
    limit_a: ArrayLike | None = None,
    intake_a: ArrayLike | None = None,
) -> NetworkResult:
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
    limit_a : array-like, sources × conditions, optional
        The most each source gives, at least 0: 0 for one that is off, infinite (as where left out) for no limit. [A]
    intake_a : array-like, sources × conditions, optional
        The most each source takes, at least 0: 0 for an alternator, what a battery accepts; infinite where left out. [A]

    Returns
    -------
    NetworkResult
        Read-only arrays in the caller's order, converters after the loads and sources given. A condition without an
        operating point has NaN throughout and is named in ``no_operating_point``.

    Raises
    ------
    OutOfRange
        If an array has the wrong shape, is not finite, or holds a value outside its range.
    NetworkError
        If sources without resistance of their own stand side by side.

    Notes
    -----
    Guarantee: in every solved condition each load's current is within 1e-9 A of what it takes at its terminal voltage,
    currents sum exactly at every node, and no source is past its limits. A load found below its ``min_v`` is switched off
    and the rest solved again, the one furthest below first.
    """
    given = _checked(network, emf_v, source_ohm, load_scale, limit_a, intake_a)
    return _result(Conditions(network, given).run())


def _checked(
    network: Network,
    emf_v: ArrayLike,
    source_ohm: ArrayLike,
    load_scale: ArrayLike,
    limit_a: ArrayLike | None,
    intake_a: ArrayLike | None,
) -> Given:
    emf = np.atleast_2d(np.asarray(emf_v, dtype=np.float64))
    made = len(network.converters)
    shape = (len(network.sources) - made, emf.shape[1])
    rows = [_array("emf_v", emf, shape, least=1e-3), _array("source_ohm", source_ohm, shape)]
    for name, ends in (("limit_a", limit_a), ("intake_a", intake_a)):
        rows.append(np.full(shape, np.inf) if ends is None else _array(name, ends, shape, finite=False))
    scale = _array("load_scale", load_scale, (len(network.loads) - made, emf.shape[1]))
    if made:
        parts = np.array([(c.output_v, c.output_ohm, c.limit_a, 0.0, c.idle_w) for c in network.converters])
        *rows, scale = (
            np.concatenate([row, np.repeat(parts[:, [column]], emf.shape[1], axis=1)])
            for column, row in enumerate([*rows, scale])
        )
    return Given(rows[0], rows[1], rows[2], -rows[3], scale)


def _array(name: str, given: ArrayLike, shape: tuple[int, int], *, least: float = 0.0, finite: bool = True) -> Floats:
    values = np.asarray(given, dtype=np.float64)
    values = values if name == "load_scale" else np.atleast_2d(values)
    if values.shape != shape:
        raise OutOfRange(name, values.shape, f"an array of shape {shape}")
    sound = np.isfinite(values) if finite else ~np.isnan(values)
    if values.size and not (sound.all() and values.min() >= least):
        raise OutOfRange(name, "an array", f"{'finite and ' if finite else ''}at least {least:g} throughout")
    return values


def _result(done: Conditions) -> NetworkResult:
    network, found, given = done.network, done.found, done.given
    load_a, point_a, source_a, tree_v = _load_a(done), found.point_a, found.source_a, found.tree_v
    if not found.settled.all():
        gone = np.where(found.settled, 1.0, np.nan)
        load_a, point_a, source_a, tree_v = (part * gone for part in (load_a, point_a, source_a, tree_v))
    through, drop, around = network.forest.sweep(network.grid.drawn_with_sources(point_a, source_a))
    node_v = tree_v[network.forest.tree_of]
    node_v -= drop
    posts_v, point_v = network.grid.across_posts(node_v), network.grid.across_points(node_v)
    return NetworkResult(
        network=network,
        load_a=load_a,
        load_v=point_v if network.points == len(network.loads) else point_v[network.point_of_load],
        cut_out=done.cut_out,
        unfed=done.unfed,
        source_a=source_a,
        at_limit=done.feeding.is_held & (given.most_a > given.least_a) & found.settled,
        emf_v=given.emf_v.copy(),
        terminal_v=posts_v,
        down_a=through,
        around_a=around,
        node_v=node_v,
        no_operating_point=tuple(_unsolved(done, int(c)) for c in np.flatnonzero(~found.settled)),
        sweeps=done.sweeps,
    )


def _load_a(done: Conditions) -> Floats:
    """Each load's part of what its point takes."""
    network, point_v = done.network, done.found.point_v[done.network.point_of_load]
    if network.points == len(network.loads):
        return done.found.point_a
    current_a, siemens, power_w = network.demand
    amps: Floats = done.scale * (current_a + siemens * point_v + power_w / point_v)
    return amps


def _unsolved(done: Conditions, condition: int) -> NoOperatingPoint:
    """Name the load of a condition without an operating point, with the means to ask how large it could be."""
    network, at = done.network, np.array([condition])
    on = done.scale if (done.scale[:, condition] > 0).any() else done.given.scale  # with all off, what was asked for
    row = load_to_blame(network, on[:, at], done.feeding.columns(at))
    load, scale = network.loads[row], on[:, condition].copy()
    given = Given(done.given.emf_v, done.given.ohm, done.given.most_a, done.given.least_a, done.scale)

    def works(ratios: Floats) -> Bools:
        trial = given.repeated(condition, len(ratios))
        trial.scale[row] *= ratios
        return Conditions(network, trial).run(fixed=True).found.settled

    return NoOperatingPoint(
        condition=condition,
        load=load.key,
        wanted_w=float(load.current_a * load.at_v * scale[row]),
        largest_ratio=lambda: largest_ratio(works),
    )
