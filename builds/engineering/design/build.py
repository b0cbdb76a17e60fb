"""The whole build, and how it is written."""

from dataclasses import dataclass

from builds.engineering.design.buyer import Buyer
from builds.engineering.design.circuits import Circuit, Load
from builds.engineering.design.conditions import OperatingCondition
from builds.engineering.design.duty import DutyProfile, DutySegment, ShedStep
from builds.engineering.design.platform import Platform
from builds.engineering.design.power import PowerNode, Run
from builds.engineering.design.vehicle import Vehicle
from builds.engineering.design.work import Operation, PartsBillLine
from builds.engineering.vocabulary import BuildKind, GaugeBasis, UnitSystem, VehicleSide

__all__ = ["Conventions", "Design"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Conventions:
    """How this build is written: units shown, gauge table, side of the driver, colour scheme of wires."""

    units: UnitSystem = UnitSystem.US
    gauge_basis: GaugeBasis = GaugeBasis.SAE
    driver_side: VehicleSide = VehicleSide.LEFT
    wire_colour_scheme: str = "function"


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """
    The working design of one build, or of one revision of it.

    ``function_schedule`` is text in the language of :mod:`builds.engineering.functions`, or empty.
    """

    number: str
    title: str
    kind: BuildKind
    purchase_order: str
    conventions: Conventions
    buyer: Buyer
    vehicle: Vehicle
    platform: Platform
    nodes: tuple[PowerNode, ...] = ()
    runs: tuple[Run, ...] = ()
    circuits: tuple[Circuit, ...] = ()
    loads: tuple[Load, ...] = ()
    conditions: tuple[OperatingCondition, ...] = ()
    operations: tuple[Operation, ...] = ()
    parts: tuple[PartsBillLine, ...] = ()
    function_schedule: str = ""
    shed_steps: tuple[ShedStep, ...] = ()
    duty_profiles: tuple[DutyProfile, ...] = ()
    duty_segments: tuple[DutySegment, ...] = ()
