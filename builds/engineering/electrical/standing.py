"""
A vehicle that stands: what it takes asleep and how many days it still starts.

Plain ampere-hours, never Peukert's law, which says nothing at milliamperes.
"""

from builds.engineering.electrical.battery import source_default
from builds.engineering.ranges import check_at_least, check_ratio, check_within

__all__ = ["standing_days_d", "standing_draw_ah_per_d"]


def standing_draw_ah_per_d(*, draw_a: float) -> float:
    """
    Return what a key-off draw takes in a day.

    Parameters
    ----------
    draw_a : float
        Draw with everything asleep, at least 0. [A]

    Returns
    -------
    float
        24 x draw. [Ah/d]

    Raises
    ------
    OutOfRange
        If the draw is below 0 or not finite.

    Examples
    --------
    >>> round(standing_draw_ah_per_d(draw_a=0.1), 9)
    2.4
    """
    check_at_least("draw_a", draw_a, 0.0)
    return 24 * draw_a


def standing_days_d(
    *,
    capacity_ah: float,
    draw_a: float,
    usable_ratio: float | None = None,
    self_discharge_per_day_ratio: float = 0.0,
    run_on_ah: float = 0.0,
) -> float | None:
    """
    Return how many days a vehicle may stand and still start.

    Parameters
    ----------
    capacity_ah : float
        Capacity of the starting battery at its rated hours, above 0. [Ah]
    draw_a : float
        Draw with everything asleep, at least 0. [A]
    usable_ratio : float, optional
        Part of the battery that standing may use, above 0 to 1; 0.40 if not given. [1]
    self_discharge_per_day_ratio : float, default 0.0
        Part of its capacity that the battery itself loses in a day, 0 to 0.1. [1]
    run_on_ah : float, default 0.0
        What timers take once after the key is off, at least 0. [Ah]

    Returns
    -------
    float or None
        (usable x capacity - run-on) / (24 x draw + self-discharge x capacity), at least 0; None where nothing is
        taken at all. [d]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> round(standing_days_d(capacity_ah=66, draw_a=0.050), 1), round(standing_days_d(capacity_ah=66, draw_a=0.030), 1)
    (22.0, 36.7)

    References
    ----------
    .. [1] A maker's bulletin on standing vehicles: no start after about 40 % of the available ampere-hours.
    """
    check_within("capacity_ah", capacity_ah, 0.1, 10_000.0)
    check_within("self_discharge_per_day_ratio", self_discharge_per_day_ratio, 0.0, 0.1)
    check_at_least("run_on_ah", run_on_ah, 0.0)
    ratio = source_default("standing_usable_ratio") if usable_ratio is None else usable_ratio
    check_ratio("usable_ratio", ratio)
    daily_ah = standing_draw_ah_per_d(draw_a=draw_a) + self_discharge_per_day_ratio * capacity_ah
    if daily_ah == 0.0:
        return None
    return max(0.0, ratio * capacity_ah - run_on_ah) / daily_ah
