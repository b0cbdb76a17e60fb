"""
Each operating condition solved as it stands, told when somebody asks: node voltages, currents and losses of runs, drops.

:func:`builds.engineering.assess.assess` judges a design at both ends of each condition's range. This says what one condition
looks like at its low end, with every source at its own voltage and limit: what the alternator gives, what the battery adds,
and over which run each load loses its volts.
"""

from builds.engineering.flows.results import (
    DropPart,
    LoadDrop,
    LoadVolts,
    NodeVolts,
    RunFlow,
    SourceFlow,
)
from builds.engineering.flows.solve import ConditionFlows, solve_conditions

__all__ = [
    "ConditionFlows",
    "DropPart",
    "LoadDrop",
    "LoadVolts",
    "NodeVolts",
    "RunFlow",
    "SourceFlow",
    "solve_conditions",
]
