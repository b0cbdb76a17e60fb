"""
What flows from a full battery, and from what charges it, into an empty one when the switch between them closes.

At the first moment nothing but resistance limits it; as the empty one's voltage rises it falls over minutes. Loads that are on
at the same time leave less, so this is the most.
"""

from builds.engineering.ranges import check_at_least, check_within

__all__ = ["converter_input_a", "equalising_a"]


def equalising_a(
    *,
    full_rest_v: float,
    empty_rest_v: float,
    full_ohm: float,
    between_ohm: float,
    charging_a: float = 0.0,
    charging_v: float = 0.0,
) -> float:
    """
    Return the current at the moment of closing.

    Parameters
    ----------
    full_rest_v : float
        Voltage of the full battery at rest, 1 to 100. [V]
    empty_rest_v : float
        Voltage of the empty battery at rest, 1 to 100. [V]
    full_ohm : float
        Resistance inside the full battery, above 0. [Ω]
    between_ohm : float
        Resistance inside the empty battery and of everything between the two, out and back, above 0. [Ω]
    charging_a : float, default 0.0
        The most that charges the full battery; 0 where nothing does. [A]
    charging_v : float, default 0.0
        The voltage that is set to; 0 where nothing charges. [V]

    Returns
    -------
    float
        From the full battery alone (E1 - E2) / (R1 + R); with what charges it, the voltage that lets all of that through
        the way between, (V - E2) / R, no higher than its setting; where that stands below the full battery's rest voltage
        the battery gives the rest. At least 0. [A]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Notes
    -----
    A full battery takes nothing of the charge in this moment, which makes the result the larger.

    Examples
    --------
    0.5 V over 6 + 9.6 mΩ; and 2.1 V over 9.6 mΩ, of which a source of 150 A lets 150 A through:

    >>> round(equalising_a(full_rest_v=12.8, empty_rest_v=12.3, full_ohm=0.006, between_ohm=0.0096), 2)
    32.05
    >>> round(equalising_a(full_rest_v=12.8, empty_rest_v=12.3, full_ohm=0.006, between_ohm=0.0096,
    ...                    charging_a=150.0, charging_v=14.4), 2)
    150.0
    >>> round(equalising_a(full_rest_v=12.8, empty_rest_v=12.3, full_ohm=0.006, between_ohm=0.0096,
    ...                    charging_a=400.0, charging_v=14.4), 2)
    218.75
    """
    for name, value in (("full_rest_v", full_rest_v), ("empty_rest_v", empty_rest_v)):
        check_within(name, value, 1.0, 100.0)
    check_within("full_ohm", full_ohm, 1e-6, 100.0)
    check_within("between_ohm", between_ohm, 1e-6, 100.0)
    check_at_least("charging_a", charging_a, 0.0)
    check_at_least("charging_v", charging_v, 0.0)
    at_v = min(empty_rest_v + charging_a * between_ohm, charging_v)
    if at_v < full_rest_v:  # the full battery gives what the source leaves to give
        conductance_s = 1 / full_ohm + 1 / between_ohm
        at_v = (full_rest_v / full_ohm + empty_rest_v / between_ohm + charging_a) / conductance_s
        at_v = min(at_v, max(full_rest_v, charging_v))
    return max(0.0, (at_v - empty_rest_v) / between_ohm)


def converter_input_a(*, output_a: float, output_v: float, input_v: float, efficiency_ratio: float) -> float:
    """
    Return what a converter takes at its input: a constant power, so more the lower the voltage there.

    Parameters
    ----------
    output_a : float
        What it gives, at least 0. [A]
    output_v : float
        Voltage at its output, 1 to 100. [V]
    input_v : float
        Voltage at its input, 1 to 100. [V]
    efficiency_ratio : float
        Output over input, 0.1 to 1. [1]

    Returns
    -------
    float
        I_out × V_out / (efficiency × V_in). [A]

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> round(converter_input_a(output_a=40, output_v=14.4, input_v=12.2, efficiency_ratio=0.9), 1)
    52.5
    """
    check_at_least("output_a", output_a, 0.0)
    check_within("output_v", output_v, 1.0, 100.0)
    check_within("input_v", input_v, 1.0, 100.0)
    check_within("efficiency_ratio", efficiency_ratio, 0.1, 1.0)
    return output_a * output_v / (efficiency_ratio * input_v)
