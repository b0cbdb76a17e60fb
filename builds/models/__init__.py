"""The tables of the shop, one module per family."""

from builds.models.build import (
    Authorisation,
    Build,
    EditBatch,
    EditEntry,
    FindingOverride,
    FrozenDocument,
    HoldReason,
    Revision,
    StageChange,
)
from builds.models.circuit import Circuit, Load, LoadUse, OperatingCondition
from builds.models.customer import BuyerProfile, BuyerRule, Customer, DropRule
from builds.models.duty import DutyProfile, DutySegment, ShedStep
from builds.models.floor import ChecklistStep, HoldSignature, StepResult, Tick, TimeEntry
from builds.models.functions import FunctionSchedule, LoadedFile
from builds.models.history import HistoryEntry
from builds.models.match import BuildMatch
from builds.models.media import Photo, StoredFile
from builds.models.packet import Acceptance, CustomerLink, PacketIssue
from builds.models.platform import AccessPoint, NoMountZone, PlatformVersion, Route, SeatPlace, Vehicle, Zone
from builds.models.power import PowerNode, Run
from builds.models.register import BodyPenetration, CustomerGear, RemovedPart, SerialNumber, Splice
from builds.models.shop import Person, Role, Shop
from builds.models.stage import Stage
from builds.models.work import Operation, PartsBillLine
from builds.models.yard import Bay, BayPlace, Booking, CheckIn, KeyEvent, LocationEvent, Occupancy

__all__ = [
    "Acceptance",
    "AccessPoint",
    "Authorisation",
    "Bay",
    "BayPlace",
    "BodyPenetration",
    "Booking",
    "Build",
    "BuildMatch",
    "BuyerProfile",
    "BuyerRule",
    "CheckIn",
    "ChecklistStep",
    "Circuit",
    "Customer",
    "CustomerGear",
    "CustomerLink",
    "DropRule",
    "DutyProfile",
    "DutySegment",
    "EditBatch",
    "EditEntry",
    "FindingOverride",
    "FrozenDocument",
    "FunctionSchedule",
    "HistoryEntry",
    "HoldReason",
    "HoldSignature",
    "KeyEvent",
    "Load",
    "LoadUse",
    "LoadedFile",
    "LocationEvent",
    "NoMountZone",
    "Occupancy",
    "OperatingCondition",
    "Operation",
    "PacketIssue",
    "PartsBillLine",
    "Person",
    "Photo",
    "PlatformVersion",
    "PowerNode",
    "RemovedPart",
    "Revision",
    "Role",
    "Route",
    "Run",
    "SeatPlace",
    "SerialNumber",
    "ShedStep",
    "Shop",
    "Splice",
    "Stage",
    "StageChange",
    "StepResult",
    "StoredFile",
    "Tick",
    "TimeEntry",
    "Vehicle",
    "Zone",
]
