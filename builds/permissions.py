"""
Who may do what: one table of action × role × relation, and the two functions that read it.

``may`` answers, ``check_may`` raises; every view, API call and service that changes something names its action. A
relation narrows a right: OWN is a time entry of one's own; ANY is everything in the shop.
"""

from enum import StrEnum

from django.contrib.auth.models import AnonymousUser

from builds.errors import NotAllowed
from builds.models import Person, Role

__all__ = ["TABLE", "Action", "Relation", "check_may", "may"]


class Action(StrEnum):
    """Everything a signed-in person can do."""

    SEE_BUILDS = "see builds"
    OPEN_BUILD = "open a build"
    EDIT_DESIGN = "edit the design"
    RELEASE_REVISION = "release a revision"
    RECORD_AUTHORISATION = "record an authorisation"
    OVERRIDE_FINDING = "override a finding"
    MOVE_STAGE = "move a build on"
    SET_HOLD = "set or lift a hold"
    CANCEL_BUILD = "cancel a build"
    CLOSE_BUILD = "close a build"
    MAKE_STEPS = "make the checklist"
    TICK_STEP = "tick a step"
    SIGN_HOLD_POINT = "sign a hold point"
    CLOCK_TIME = "clock time"
    CORRECT_TIME = "correct a time entry"
    ADD_PHOTO = "add a photo"
    WRITE_REGISTER = "write in a register"
    CHECK_IN_VEHICLE = "check a vehicle in or out"
    MOVE_VEHICLE = "say where a vehicle or its keys are"
    SEE_BAYS = "see the bays"
    PLAN_BAYS = "plan the bays"
    ISSUE_PACKET = "issue a packet"
    SEE_PACKET = "see a packet"
    MAKE_LINK = "make or revoke a customer link"
    SEE_STORES = "see the stores"
    MOVE_STOCK = "move stock"
    EDIT_CATALOGUE = "edit the parts catalogue"
    EDIT_CUSTOMER = "edit a customer or a buyer profile"
    EDIT_PLATFORM = "write a platform version"
    EDIT_PEOPLE = "say who works here"


class Relation(StrEnum):
    """What stands between the person and the thing."""

    ANY = "any"
    OWN = "own"


_ALL = tuple(Role)
_DESK = (Role.SERVICE_WRITER, Role.DESIGNER, Role.MANAGER)
_BAY = (Role.TECHNICIAN, Role.INSPECTOR, Role.MANAGER)


def _any(*roles: Role) -> frozenset[tuple[Role, Relation]]:
    return frozenset((role, Relation.ANY) for role in roles)


def _own(*roles: Role) -> frozenset[tuple[Role, Relation]]:
    return frozenset((role, Relation.OWN) for role in roles)


TABLE: dict[Action, frozenset[tuple[Role, Relation]]] = {
    Action.SEE_BUILDS: _any(*_ALL),
    Action.OPEN_BUILD: _any(*_DESK),
    Action.EDIT_DESIGN: _any(*_DESK),
    Action.RELEASE_REVISION: _any(*_DESK),
    Action.RECORD_AUTHORISATION: _any(Role.SERVICE_WRITER, Role.MANAGER),
    Action.OVERRIDE_FINDING: _any(Role.DESIGNER, Role.MANAGER),
    Action.MOVE_STAGE: _any(*_DESK, Role.INSPECTOR),
    Action.SET_HOLD: _any(*_DESK, Role.PARTS_CLERK),
    Action.CANCEL_BUILD: _any(Role.MANAGER),
    Action.CLOSE_BUILD: _any(Role.SERVICE_WRITER, Role.MANAGER),
    Action.MAKE_STEPS: _any(Role.DESIGNER, Role.MANAGER),
    Action.TICK_STEP: _any(Role.TECHNICIAN, Role.DESIGNER, Role.MANAGER),
    Action.SIGN_HOLD_POINT: _any(*_BAY),
    Action.CLOCK_TIME: _any(Role.TECHNICIAN, Role.DESIGNER, Role.INSPECTOR, Role.MANAGER),
    Action.CORRECT_TIME: _any(Role.MANAGER) | _own(Role.TECHNICIAN, Role.DESIGNER, Role.INSPECTOR),
    Action.ADD_PHOTO: _any(*_ALL),
    Action.WRITE_REGISTER: _any(Role.TECHNICIAN, Role.DESIGNER, Role.PARTS_CLERK, Role.SERVICE_WRITER, Role.MANAGER),
    Action.CHECK_IN_VEHICLE: _any(Role.SERVICE_WRITER, Role.TECHNICIAN, Role.MANAGER),
    Action.MOVE_VEHICLE: _any(*_ALL),
    Action.SEE_BAYS: _any(*_ALL),
    Action.PLAN_BAYS: _any(Role.MANAGER, Role.SERVICE_WRITER),
    Action.ISSUE_PACKET: _any(*_DESK, Role.INSPECTOR),
    Action.SEE_PACKET: _any(*_ALL),
    Action.MAKE_LINK: _any(Role.SERVICE_WRITER, Role.MANAGER),
    Action.SEE_STORES: _any(*_ALL),
    Action.MOVE_STOCK: _any(Role.PARTS_CLERK, Role.MANAGER),
    Action.EDIT_CATALOGUE: _any(Role.PARTS_CLERK, Role.DESIGNER, Role.MANAGER),
    Action.EDIT_CUSTOMER: _any(Role.SERVICE_WRITER, Role.MANAGER),
    Action.EDIT_PLATFORM: _any(Role.DESIGNER, Role.MANAGER),
    Action.EDIT_PEOPLE: _any(Role.MANAGER) | _own(*(role for role in _ALL if role is not Role.MANAGER)),
}


def may(person: Person | AnonymousUser, action: Action, *, own: bool = False) -> bool:
    """Whether ``person`` may do ``action``; ``own`` says that the thing is theirs."""
    if not isinstance(person, Person) or not person.is_active:
        return False
    rights = TABLE[action]
    role = Role(person.role)
    return (role, Relation.ANY) in rights or (own and (role, Relation.OWN) in rights)


def check_may(person: Person | AnonymousUser, action: Action, *, own: bool = False) -> Person:
    """Return ``person``, who is signed in then. Raises :class:`NotAllowed` unless they may do ``action``."""
    if not isinstance(person, Person) or not may(person, action, own=own):
        raise NotAllowed(f"This needs someone who may {action}.")
    return person
