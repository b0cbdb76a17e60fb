"""
Weight: what each axle carries with things added and taken off, payload left, and the label threshold.

Positions are counted from the front axle, backwards positive. A thing ahead of the front axle takes load off the rear one
and a thing behind the rear axle takes load off the front: neither share is clipped at nothing.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from builds.engineering.ranges import check_count, check_within
from builds.engineering.units import KG_PER_LB

__all__ = [
    "SEAT_ALLOWANCE_KG",
    "AxleLoads",
    "PlacedMass",
    "SideLoads",
    "axle_shares",
    "cargo_left_kg",
    "label_threshold_kg",
    "loaded_axles",
    "payload_left_kg",
    "side_loads",
]

SEAT_ALLOWANCE_KG = 150 * KG_PER_LB  # 49 CFR 567.4(g)(3): 150 lb for each designated seat
LABEL_RATIO = 0.015  # 49 CFR 571.110: 1.5 % of GVWR
LABEL_MOST_KG = 100 * KG_PER_LB  # or 100 lb, whichever is less


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedMass:
    """A mass at a place, x behind the front axle and y right of the centre line; negative where something is taken off."""

    mass_kg: float
    x_mm: float
    y_mm: float = 0.0

    def __post_init__(self) -> None:
        check_within("mass_kg", self.mass_kg, -100_000.0, 100_000.0)
        check_within("x_mm", self.x_mm, -20_000.0, 40_000.0)
        check_within("y_mm", self.y_mm, -20_000.0, 20_000.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleLoads:
    """What stands on each axle, or what a thing adds to each."""

    front_kg: float
    rear_kg: float

    @property
    def total_kg(self) -> float:
        """Both axles together."""
        return self.front_kg + self.rear_kg


@dataclass(frozen=True, slots=True, kw_only=True)
class SideLoads:
    """What the wheels of each side carry, as seated facing forward."""

    left_kg: float
    right_kg: float

    @property
    def difference_ratio(self) -> float:
        """How much more the heavier side carries, as a part of both together."""
        return abs(self.left_kg - self.right_kg) / (self.left_kg + self.right_kg)


def axle_shares(*, mass_kg: float, x_mm: float, wheelbase_mm: float) -> AxleLoads:
    """
    Return what a mass adds to each axle.

    Parameters
    ----------
    mass_kg : float
        Mass, negative where something is taken off. [kg]
    x_mm : float
        Its distance behind the front axle, negative ahead of it. [mm]
    wheelbase_mm : float
        Distance between the axles, 500 to 20,000. [mm]

    Returns
    -------
    AxleLoads
        rear = m x / WB, front = m - rear, either of them negative beyond an axle.

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> axle_shares(mass_kg=100, x_mm=-500, wheelbase_mm=4000)
    AxleLoads(front_kg=112.5, rear_kg=-12.5)
    """
    check_within("wheelbase_mm", wheelbase_mm, 500.0, 20_000.0)
    placed = PlacedMass(mass_kg=mass_kg, x_mm=x_mm)
    rear_kg = placed.mass_kg * placed.x_mm / wheelbase_mm
    return AxleLoads(front_kg=placed.mass_kg - rear_kg, rear_kg=rear_kg)


def loaded_axles(
    *, curb_front_kg: float, curb_rear_kg: float, wheelbase_mm: float, masses: Iterable[PlacedMass]
) -> AxleLoads:
    """
    Return what each axle carries with everything in its place.

    Parameters
    ----------
    curb_front_kg : float
        Front axle of the vehicle as it came, at least 0. [kg]
    curb_rear_kg : float
        Rear axle of the vehicle as it came, at least 0. [kg]
    wheelbase_mm : float
        Distance between the axles. [mm]
    masses : iterable of PlacedMass
        What is added and, negative, what is taken off.

    Returns
    -------
    AxleLoads
        Sums over the vehicle and all masses.

    Raises
    ------
    OutOfRange
        If an argument is outside its range.
    """
    check_within("curb_front_kg", curb_front_kg, 0.0, 100_000.0)
    check_within("curb_rear_kg", curb_rear_kg, 0.0, 100_000.0)
    front_kg, rear_kg = curb_front_kg, curb_rear_kg
    for placed in masses:
        shares = axle_shares(mass_kg=placed.mass_kg, x_mm=placed.x_mm, wheelbase_mm=wheelbase_mm)
        front_kg += shares.front_kg
        rear_kg += shares.rear_kg
    return AxleLoads(front_kg=front_kg, rear_kg=rear_kg)


def side_loads(
    *, curb_left_kg: float, curb_right_kg: float, track_mm: float, masses: Iterable[PlacedMass]
) -> SideLoads:
    """
    Return what the wheels of each side carry with everything in its place.

    Parameters
    ----------
    curb_left_kg : float
        Left wheels of the vehicle as it came, at least 0. [kg]
    curb_right_kg : float
        Right wheels of the vehicle as it came, at least 0. [kg]
    track_mm : float
        Distance between the wheels of an axle, 500 to 5000. [mm]
    masses : iterable of PlacedMass
        What is added and, negative, what is taken off.

    Returns
    -------
    SideLoads
        right = m (1/2 + y / track), left = m - right; either of them negative beyond the wheels.

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Notes
    -----
    Moments about the line on which the other side's wheels stand, as for axles. Both axles are taken to have one track.

    Examples
    --------
    >>> side_loads(curb_left_kg=1000, curb_right_kg=1000, track_mm=1600, masses=[PlacedMass(mass_kg=80, x_mm=0, y_mm=400)])
    SideLoads(left_kg=1020.0, right_kg=1060.0)
    """
    check_within("curb_left_kg", curb_left_kg, 0.0, 100_000.0)
    check_within("curb_right_kg", curb_right_kg, 0.0, 100_000.0)
    check_within("track_mm", track_mm, 500.0, 5000.0)
    left_kg, right_kg = curb_left_kg, curb_right_kg
    for placed in masses:
        on_right_kg = placed.mass_kg * (0.5 + placed.y_mm / track_mm)
        left_kg += placed.mass_kg - on_right_kg
        right_kg += on_right_kg
    return SideLoads(left_kg=left_kg, right_kg=right_kg)


def payload_left_kg(
    *, gvwr_kg: float, curb_kg: float, added_kg: float, seats: int, person_kg: float = SEAT_ALLOWANCE_KG
) -> float:
    """
    Return what may still be carried with somebody in every seat.

    Parameters
    ----------
    gvwr_kg : float
        Gross vehicle weight rating, above 0. [kg]
    curb_kg : float
        Unloaded vehicle weight: all fluids, no cargo, nobody aboard. [kg]
    added_kg : float
        What the build adds, less what it takes off. [kg]
    seats : int
        Designated seats, at least 0.
    person_kg : float, default 68.04
        Mass of a person: the regulation's 150 lb, or the real crew's with their gear. [kg]

    Returns
    -------
    float
        GVWR - curb - added - seats x person, negative where nothing is left. [kg]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    References
    ----------
    .. [1] 49 CFR 567.4(g)(3).
    """
    check_within("gvwr_kg", gvwr_kg, 1.0, 100_000.0)
    check_within("curb_kg", curb_kg, 0.0, 100_000.0)
    check_within("added_kg", added_kg, -100_000.0, 100_000.0)
    return cargo_left_kg(capacity_kg=gvwr_kg - curb_kg - added_kg, seats=seats, person_kg=person_kg)


def cargo_left_kg(*, capacity_kg: float, seats: int, person_kg: float = SEAT_ALLOWANCE_KG) -> float:
    """
    Return what a load capacity leaves for cargo.

    Parameters
    ----------
    capacity_kg : float
        Occupants and cargo together, as on the tyre placard. [kg]
    seats : int
        People aboard, at least 0.
    person_kg : float, default 68.04
        Mass of a person, 0 to 500. [kg]

    Returns
    -------
    float
        capacity - seats x person. [kg]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.
    """
    check_within("capacity_kg", capacity_kg, -200_000.0, 200_000.0)
    check_count("seats", seats, least=0)
    check_within("person_kg", person_kg, 0.0, 500.0)
    return capacity_kg - seats * person_kg


def label_threshold_kg(*, gvwr_kg: float) -> float:
    """
    Return the weight added before first sale above which the load-capacity label comes into question.

    Parameters
    ----------
    gvwr_kg : float
        Gross vehicle weight rating, above 0. [kg]

    Returns
    -------
    float
        The lesser of 1.5 % of GVWR and 100 lb. [kg]

    Raises
    ------
    OutOfRange
        If the rating is outside its range.

    Notes
    -----
    For vehicles of 10,000 lb (4,536 kg) or less, before first sale. A person decides whether and which label; this gives
    the figure. Above 6,667 lb (3,024 kg) the 100 lb rule.

    Examples
    --------
    >>> round(label_threshold_kg(gvwr_kg=2000), 1), round(label_threshold_kg(gvwr_kg=4000), 2)
    (30.0, 45.36)

    References
    ----------
    .. [1] 49 CFR 571.110, 72 FR 68442 (4 December 2007); read against the current Code before relying on it.
    """
    check_within("gvwr_kg", gvwr_kg, 1.0, 100_000.0)
    return min(LABEL_RATIO * gvwr_kg, LABEL_MOST_KG)
