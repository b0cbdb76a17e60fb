"""
What is taken at a pair of nodes, as a function of the voltage there.

A load takes a constant current, a current proportional to its voltage, or one in inverse proportion to it. All the loads
between one pair of nodes together take ``i = I + G w + P / w`` at their terminals. Behind the resistance ``z`` of a way of
their own, from an open voltage ``u``, that is a quadratic in ``w``::

    (1 + z G) w² - (u - z I) w + z P = 0

whose upper root is the one a distribution comes up to.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builds.engineering.electrical.network_rings import Floats, Ints

__all__ = ["Bools", "Columns", "Laws", "Taken"]

Bools = NDArray[np.bool_]
# Some conditions by number, or all of them.
Columns = Ints | slice

# Keeps a quotient finite where nothing stands on it.
_TINY = 1e-300


@dataclass(frozen=True, slots=True, eq=False)
class Taken:
    """Amperes and terminal volts, points × conditions; ``sound`` says in which conditions every point is on its upper root."""

    amps: Floats
    volts: Floats
    sound: Bools


@dataclass(frozen=True, slots=True, eq=False)
class Laws:
    """
    ``I``, ``G`` and ``P`` of every point, points × conditions, and ``z``, points × 1.

    The last four follow from them: what the quadratic needs at every step.
    """

    current_a: Floats
    siemens: Floats
    power_w: Floats
    own_ohm: Floats
    on: Bools
    shift_v: Floats
    halved: Floats
    inner: Floats

    @classmethod
    def of(cls, current_a: Floats, siemens: Floats, power_w: Floats, own_ohm: Floats) -> "Laws":
        """Return the laws of points behind ``own_ohm``."""
        damped = 1.0 + own_ohm * siemens
        return cls(
            current_a,
            siemens,
            power_w,
            own_ohm,
            (current_a + siemens + power_w) > 0.0,
            own_ohm * current_a,
            0.5 / damped,
            4.0 * damped * own_ohm * power_w,
        )

    def columns(self, at: Columns) -> "Laws":
        """Return the laws of some conditions."""
        if isinstance(at, slice):
            return self
        return Laws.of(self.current_a[:, at], self.siemens[:, at], self.power_w[:, at], self.own_ohm)

    def with_power(self, ratio: Floats) -> "Laws":
        """Return the same with every constant power times a ratio, one a condition."""
        return Laws.of(self.current_a, self.siemens, self.power_w * ratio, self.own_ohm)

    def taken(self, open_v: Floats, lowest_v: Floats) -> Taken:
        """
        Return what is taken behind open voltages, points × conditions.

        Past the largest power the square root has nothing left and the voltage stays at half of what it could be; below
        ``lowest_v`` (points × conditions) it is held there. Neither is sound.
        """
        room_v = open_v - self.shift_v
        volts = room_v * room_v
        volts -= self.inner
        unsound = volts < 0.0
        np.maximum(volts, 0.0, out=volts)
        np.sqrt(volts, out=volts)
        volts += room_v
        volts *= self.halved
        unsound |= volts < lowest_v
        unsound &= self.on
        np.maximum(volts, lowest_v, out=volts)
        amps = self.power_w / volts
        amps += self.current_a
        amps += np.multiply(self.siemens, volts, out=room_v)
        return Taken(amps, volts, np.asarray(~unsound.any(axis=0)))

    def slopes(self, open_v: Floats, volts: Floats) -> Floats:
        """Return how much more is taken per volt of open voltage, points × conditions [S]."""
        room_v = open_v - self.shift_v
        root_v = np.sqrt(np.maximum(room_v * room_v - self.inner, _TINY))
        followed = (1.0 + room_v / root_v) * self.halved
        return np.asarray((self.siemens - self.power_w / (volts * volts)) * followed)

    def linear(self) -> tuple[Floats, Floats]:
        """Return what is taken behind no voltage and the slope, with the constant powers left out."""
        damped = 2.0 * self.halved  # 1 / (1 + z G)
        return self.current_a * damped, self.siemens * damped
