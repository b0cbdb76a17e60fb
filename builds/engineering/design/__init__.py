"""
A whole build as frozen values: what the core computes from, whether it came from rows or from a document.

Every quantity carries its unit in its name and is SI, except gauges, which are labels of a declared table. Keys are the
addresses people use ("P2", "R4", "203"); they are unique within their own family. Ranges are checked where a value is
made, so a value out of range cannot exist; what is *between* the parts (a circuit on a panel that is not there) is
checked by :mod:`builds.engineering.document.references`.
"""

from builds.engineering.design.build import Conventions, Design
from builds.engineering.design.buyer import Buyer, BuyerRule, DropRule
from builds.engineering.design.circuits import Circuit, Load
from builds.engineering.design.conditions import InputSetting, LoadUse, OperatingCondition, SourceUse
from builds.engineering.design.duty import DutyProfile, DutySegment, ShedStep
from builds.engineering.design.platform import AccessPoint, NoMountZone, Platform, Route, SeatPlace, Zone
from builds.engineering.design.power import FIGURES_OF, PanelSpec, PowerNode, Run
from builds.engineering.design.sources import AlternatorPoint, AlternatorSpec, BatterySpec, ConverterSpec, SourceSpec
from builds.engineering.design.vehicle import Vehicle
from builds.engineering.design.work import Operation, PartsBillLine

__all__ = [
    "FIGURES_OF",
    "AccessPoint",
    "AlternatorPoint",
    "AlternatorSpec",
    "BatterySpec",
    "Buyer",
    "BuyerRule",
    "Circuit",
    "Conventions",
    "ConverterSpec",
    "Design",
    "DropRule",
    "DutyProfile",
    "DutySegment",
    "InputSetting",
    "Load",
    "LoadUse",
    "NoMountZone",
    "OperatingCondition",
    "Operation",
    "PanelSpec",
    "PartsBillLine",
    "Platform",
    "PowerNode",
    "Route",
    "Run",
    "SeatPlace",
    "ShedStep",
    "SourceSpec",
    "SourceUse",
    "Vehicle",
    "Zone",
]
