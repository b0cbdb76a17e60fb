"""
Every route of the site: which methods it answers, who may use each, and how its address is filled.

A new route has to be written down here before the walk passes: that is what the walk is for. What one method may is an
``Action`` of the permission table, or a door: OPEN lets anybody in, LINK whoever holds the token in the address.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver

from builds.models import Person, Role
from builds.permissions import Action
from tests.factories.two_builds import TwoBuilds

__all__ = ["ROUTES", "Case", "Door", "Route", "names_of_resolver"]


class Door(Enum):
    """A way in that asks for no right of the table."""

    OPEN = "anybody"
    LINK = "whoever holds the token"


Fill = Callable[[TwoBuilds, Person], dict[str, Any]]
Guard = Action | Door


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A body for which another action is asked than for an empty one."""

    method: str
    body: Mapping[str, str]
    guard: Guard


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """
    One named route.

    ``guards`` says who may use each method it answers; every other method is refused. ``fill`` gives the arguments of
    its address for things of the person's own build, ``not_own`` those of a thing that is another person's (where the
    table tells own from any), ``foreign`` addresses that join one build with something of another: nobody gets those.
    ``json`` is the body a route of the API is asked with. ``empty_is_fine`` marks what answers a page to an empty form.
    """

    guards: Mapping[str, Guard]
    fill: Fill = lambda shop, person: {}
    not_own: Fill | None = None
    foreign: tuple[Fill, ...] = ()
    queries: tuple[str, ...] = ("",)
    cases: tuple[Case, ...] = ()
    json: Mapping[str, Any] | None = None
    empty_is_fine: bool = False


def names_of_resolver() -> Iterator[str]:
    """Yield the name of every route of the site; a nameless one by its pattern."""

    def walk(patterns: list[URLPattern | URLResolver]) -> Iterator[str]:
        for entry in patterns:
            if isinstance(entry, URLResolver):
                yield from walk(entry.url_patterns)
            else:
                yield entry.name or f"nameless {entry.pattern}"

    yield from walk(get_resolver().url_patterns)


def _get(action: Guard) -> dict[str, Guard]:
    return {"GET": action}


def _post(action: Guard) -> dict[str, Guard]:
    return {"POST": action}


def _form(action: Guard) -> dict[str, Guard]:
    return {"GET": action, "POST": action}


def _build(**more: Any) -> Fill:
    return lambda shop, person: {"number": shop.own.number, **more}


def _no_build(**more: Any) -> Fill:
    return lambda shop, person: {"number": "9999-nobody", **more}


def _thing(name: str, **more: Any) -> Fill:
    """The build's own thing of that name."""
    return lambda shop, person: {"number": shop.own.number, "pk": getattr(shop.own, name).pk, **more}


def _others_thing(name: str, **more: Any) -> Fill:
    """The other build's thing under this build's address."""
    return lambda shop, person: {"number": shop.own.number, "pk": getattr(shop.other, name).pk, **more}


def _of_build(guards: dict[str, Guard], **more: Any) -> Route:
    return Route(guards=guards, fill=_build(), foreign=(_no_build(),), **more)


def _of_row(guards: dict[str, Guard], **more: Any) -> Route:
    """An address of a row; circuit 777 is the other build's alone."""
    row = {"family": "circuit", "key": "101"}
    foreign = (
        _build(family="circuit", key="777"),
        _build(family="taste", key="101"),
        _no_build(**row),
    )
    return Route(guards=guards, fill=_build(**row), foreign=foreign, **more)


def _of_thing(guards: dict[str, Guard], name: str, **more: Any) -> Route:
    return Route(
        guards=guards, fill=_thing(name, **more), foreign=(_others_thing(name, **more), _no_build(pk=1, **more))
    )


def _of_profile(guards: dict[str, Guard], **more: Any) -> Route:
    return Route(
        guards=guards, fill=lambda shop, person: {"pk": shop.own.build.profile_id, **more},
        foreign=(lambda shop, person: {"pk": 10**9, **more},),
    )  # fmt: skip


def _of_part(guards: dict[str, Guard], **more: Any) -> Route:
    return Route(
        guards=guards, fill=lambda shop, person: {"number": shop.part.number},
        foreign=(lambda shop, person: {"number": "no such part"},), **more,
    )  # fmt: skip


def _of_booking(guards: dict[str, Guard]) -> Route:
    return Route(
        guards=guards,
        fill=lambda shop, person: {"pk": shop.own.booking.pk},
        foreign=(lambda shop, person: {"pk": 10**9},),
    )


def _own_entry(shop: TwoBuilds, person: Person) -> dict[str, Any]:
    return {"pk": shop.entries[Role(person.role)].pk}


def _others_entry(shop: TwoBuilds, person: Person) -> dict[str, Any]:
    return {"pk": shop.entry_of_another(Role(person.role)).pk}


def _own_self(shop: TwoBuilds, person: Person) -> dict[str, Any]:
    return {"pk": person.pk}


def _someone_else(shop: TwoBuilds, person: Person) -> dict[str, Any]:
    return {"pk": next(other.pk for other in shop.people.values() if other.pk != person.pk)}


_SEE, _EDIT = Action.SEE_BUILDS, Action.EDIT_DESIGN

_DESK: dict[str, Route] = {
    "health": Route(guards=_get(Door.OPEN)),
    "home": Route(guards=_get(Door.OPEN)),
    "sign-in": Route(guards=_form(Door.OPEN), empty_is_fine=True),
    "sign-out": Route(guards=_post(Door.OPEN), empty_is_fine=True),
    "build-list": Route(
        guards=_get(_SEE), queries=("", "?page=x&customer=-1", "?stage=all&state=late&mine=on", "?page=99999")
    ),
    "build-open": Route(
        guards=_form(Action.OPEN_BUILD),
        queries=("", "?start=build", "?start=document", "?start=%00", "?customer=99999999999999999999"),
    ),
    "vin-check": Route(guards=_get(Action.OPEN_BUILD), queries=("", "?vin=1M8GDM9AXKP042788", "?vin=%00")),
    "vehicles-of-customer": Route(
        guards=_get(Action.OPEN_BUILD), queries=("", "?customer=99999999999999999999", "?customer=%00")
    ),
    "build-detail": _of_build(
        _get(_SEE),
        queries=(
            "",
            "?edit=circuit:101",
            "?add=circuit",
            "?add=node&kind=battery",
            "?close=circuit",
            "?add=load&circuit=101",
            "?edit=load:L101",
            "?edit=part:1",
        ),
    ),
    "build-live": _of_build(_post(_SEE), empty_is_fine=True),
    "build-version": _of_build(_get(_SEE)),
    "build-drawings": _of_build(_get(_SEE)),
    "build-document": _of_build(_get(_SEE)),
    "build-facts": _of_build(_form(_EDIT)),
    "build-undo": _of_build(_post(_EDIT)),
    "build-fix": _of_build(_post(_EDIT)),
    "row-add": Route(
        guards=_post(_EDIT),
        fill=_build(family="circuit"),
        foreign=(_build(family="taste"), _no_build(family="circuit")),
    ),
    "row-edit": _of_row(_post(_EDIT)),
    "part-choice": _of_build(_get(_EDIT), queries=("?q=INV-100", "?q=%00", "")),
    "row-preview": _of_row(_post(_EDIT), empty_is_fine=True),
    "row-remove": _of_row(_post(_EDIT)),
    "design-table": Route(
        guards=_get(_SEE),
        fill=_build(family="circuit"),
        queries=("", "?rows"),
        foreign=(_build(family="taste"), _build(family="condition"), _no_build(family="circuit")),
    ),
    "table-cells": Route(
        guards=_post(_EDIT),
        fill=_build(family="circuit"),
        foreign=(_build(family="taste"), _build(family="part"), _no_build(family="circuit")),
    ),
    "power-tree": _of_build(_get(_SEE), queries=("", "?side=return&at=run:R1&do=feed&kind=bus&source=XX", "?at=%00")),
    "tree-change": _of_build(_post(_EDIT)),
    "tree-preview": _of_build(_post(_EDIT)),
    "tree-undo": _of_build(_post(_EDIT)),
    "what-if": _of_build(
        _get(_SEE),
        queries=("", "?if=circuit:101+gauge+12&if=%00&if=x", "?what=101&figure=gauge&becomes=12", "?what=&figure=%00"),
    ),
    "what-if-keep": _of_build(_post(_EDIT)),
    "row-open": _of_build(_post(_EDIT)),
    "condition-currents": Route(
        guards={"GET": _SEE},
        fill=_build(key="idle"),
        queries=("", "?load=L101", "?load=%00"),
        foreign=(_build(key="nowhere"), _no_build(key="idle")),
    ),
    "condition-loads": Route(
        guards={"GET": _SEE, "POST": _EDIT},
        fill=_build(key="idle"),
        foreign=(_build(key="nowhere"), _no_build(key="idle")),
    ),
    "duty-profile": Route(
        guards=_get(_SEE),
        fill=_build(key="D1"),
        foreign=(_build(key="nowhere"), _no_build(key="D1")),
    ),
    "build-override": Route(
        guards=_form(Action.OVERRIDE_FINDING),
        fill=lambda shop, person: {"number": shop.faulty.number},
        queries=("?finding=device-above-conductor&subject=circuit:102",),
        foreign=(_no_build(),),
        cases=(
            Case(
                method="POST",
                body={"finding": "device-above-conductor", "subject": "circuit:102"},
                guard=Action.OVERRIDE_FINDING,
            ),
        ),
    ),
    "build-working": Route(
        guards=_get(_SEE),
        fill=_build(kind="payload"),
        foreign=(_build(kind="taste"), _no_build(kind="payload")),
    ),
    "row-working": Route(
        guards=_get(_SEE),
        fill=_build(kind="circuit-drop", name="101"),
        foreign=(
            _build(kind="circuit-drop", name="777"),
            _build(kind="taste", name="101"),
            _no_build(kind="circuit-drop", name="101"),
        ),
    ),
    "build-sizes": _of_build({"GET": _SEE, "POST": _EDIT}),
    "build-history": _of_build(_get(_SEE)),
    "build-stages": _of_build(_get(_SEE)),
    # Which right a move takes depends on where to.
    "build-move": _of_build(
        _post(_SEE),
        cases=(
            Case(method="POST", body={"to": "final_check"}, guard=Action.MOVE_STAGE),
            Case(method="POST", body={"to": "cancelled", "note": "the buyer gave up"}, guard=Action.CANCEL_BUILD),
            Case(method="POST", body={"to": "closed", "note": "INV 7"}, guard=Action.CLOSE_BUILD),
        ),
    ),
    "build-hold": _of_build(_post(Action.SET_HOLD)),
    "build-lift-hold": _of_build(_post(Action.SET_HOLD)),
    "build-release": _of_build(_post(Action.RELEASE_REVISION)),
    "revision-authorise": Route(
        guards=_form(Action.RECORD_AUTHORISATION),
        fill=_build(letter="A"),
        foreign=(_build(letter="Z"), _no_build(letter="A")),
    ),
    "register-add": Route(
        guards=_form(Action.WRITE_REGISTER),
        fill=_build(register="splice"),
        foreign=(_build(register="taste"), _no_build(register="splice")),
    ),
    "register-swap": _of_thing(_form(Action.WRITE_REGISTER), "serial"),
    "register-seal": _of_thing(_form(Action.WRITE_REGISTER), "penetration"),
    "register-receive": _of_thing(_form(Action.WRITE_REGISTER), "gear"),
    "function-detail": _of_build(
        _get(_SEE), queries=("", "?claim=never&condition=x", "?in:mode=respond&past=%7B&moment=x")
    ),
    "function-play": _of_build(_get(_SEE), queries=("", "?in:mode=lost&wait=99999999999")),
    "function-chart": _of_build(_get(_SEE)),
    "function-text": _of_build(_form(_EDIT)),
    "function-compare": _of_build(_get(_SEE), queries=("", "?with=A", "?with=Z", "?build=nobody")),
    "function-condition": _of_build(_post(_EDIT)),
    "function-statement": Route(
        guards=_form(_EDIT),
        fill=_build(subject="rule:go"),
        foreign=(_build(subject="rule:nowhere"), _no_build(subject="rule:go")),
    ),
    "file-load": _of_build(_form(Action.WRITE_REGISTER)),
    "file-read-back": _of_thing(_form(Action.WRITE_REGISTER), "loading"),
    "platform-list": Route(guards=_get(_SEE)),
    "platform-copy": Route(
        guards=_form(Action.EDIT_PLATFORM),
        fill=lambda shop, person: {"pk": shop.own.build.platform_id},
        foreign=(lambda shop, person: {"pk": 999_999},),
    ),
    "customer-list": Route(guards=_get(_SEE), queries=("", "?q=%00")),
    "customer-add": Route(guards=_form(Action.EDIT_CUSTOMER)),
    "customer-detail": Route(
        guards={"GET": _SEE, "POST": Action.EDIT_CUSTOMER},
        fill=lambda shop, person: {"pk": shop.own.build.customer_id},
        foreign=(lambda shop, person: {"pk": 10**9},),
    ),
    "profile-detail": _of_profile(_get(_SEE)),
    "rule-edit": _of_profile(_form(Action.EDIT_CUSTOMER), key="conductor-margin"),
    "rule-clear": _of_profile(_post(Action.EDIT_CUSTOMER), key="conductor-margin"),
    "drop-rule-edit": _of_profile(_form(Action.EDIT_CUSTOMER)),
    "drop-rule-clear": _of_profile(_post(Action.EDIT_CUSTOMER)),
    "people": Route(guards=_get(Action.EDIT_PEOPLE)),
    "person-add": Route(guards=_post(Action.EDIT_PEOPLE)),
    "person-active": Route(
        guards=_post(Action.EDIT_PEOPLE), fill=_someone_else, foreign=(lambda shop, person: {"pk": 10**9},)
    ),
    "person-password": Route(guards=_form(Action.EDIT_PEOPLE), fill=_own_self, not_own=_someone_else),
    "stores": Route(guards=_get(Action.SEE_STORES), queries=("", "?q=%00&low=on&page=0")),
    "part-list-upload": Route(guards=_post(Action.EDIT_CATALOGUE)),
    "part-detail": _of_part(_get(Action.SEE_STORES)),
    "part-receive": _of_part(_post(Action.MOVE_STOCK)),
    "part-count": _of_part(_post(Action.MOVE_STOCK)),
}

_FLOOR: dict[str, Route] = {
    "checklist": _of_build(_get(_SEE)),
    "checklist-make": _of_build(_post(Action.MAKE_STEPS)),
    "checklist-step": _of_thing(_get(_SEE), "step"),
    "step-tick": _of_thing(_post(Action.TICK_STEP), "step"),
    "hold-sign": _of_thing(_post(Action.SIGN_HOLD_POINT), "hold"),
    "step-photo": _of_thing(_post(Action.ADD_PHOTO), "step"),
    "floor-registers": _of_build(_get(_SEE)),
    "floor-register-write": Route(
        guards=_post(Action.WRITE_REGISTER),
        fill=_build(register="splice"),
        foreign=(_build(register="taste"), _no_build(register="splice")),
    ),
    "floor-register-amend": _of_thing(_post(Action.WRITE_REGISTER), "penetration", register="penetration"),
    "clock-on": _of_build(_post(Action.CLOCK_TIME)),
    "time": Route(guards=_get(Action.CLOCK_TIME)),
    "clock-off": Route(guards=_post(Action.CORRECT_TIME), fill=_own_entry, not_own=_others_entry),
    "time-correct": Route(guards=_form(Action.CORRECT_TIME), fill=_own_entry, not_own=_others_entry),
    "stored-file": Route(
        guards=_get(_SEE),
        fill=lambda shop, person: {"sha256": shop.own.photo.file.sha256},
        foreign=(lambda shop, person: {"sha256": "0" * 64}, lambda shop, person: {"sha256": "..%2f..%2fetc"}),
    ),
}

_YARD: dict[str, Route] = {
    "bay-board": Route(guards=_get(Action.SEE_BAYS), queries=("", "?wall", "?week=2026-W99", "?week=%00", "?week=9999-W53", "?week=0001-W01")),
    "booking-new": Route(guards=_form(Action.PLAN_BAYS)),
    "booking": _of_booking({"GET": Action.SEE_BAYS, "POST": Action.PLAN_BAYS}),
    "booking-shift": _of_booking(_post(Action.PLAN_BAYS)),
    "booking-swap": _of_booking(_post(Action.PLAN_BAYS)),
    "booking-cancel": _of_booking(_post(Action.PLAN_BAYS)),
    "yard": Route(guards=_get(Action.SEE_BAYS), queries=("", "?q=%00")),
    "yard-vehicle": _of_build(_get(Action.SEE_BAYS)),
    "vehicle-move": _of_build(_post(Action.MOVE_VEHICLE)),
    "keys-hand": _of_build(_post(Action.MOVE_VEHICLE)),
    "check-in": _of_build(_form(Action.CHECK_IN_VEHICLE)),
}  # fmt: skip

_API: dict[str, Route] = {
    "api-build-list": Route(guards={"GET": _SEE, "POST": Action.OPEN_BUILD}, json={}, queries=("", "?page=99999999999999999999", "?page=-1")),
    "api-build-detail": _of_build(_get(_SEE), json={}),
    "api-build-document": _of_build(_get(_SEE), json={}),
    "api-build-assessment": _of_build(_get(_SEE), json={}),
    "api-build-functions": _of_build(
        {"GET": _SEE, "PUT": _EDIT, "PATCH": _EDIT},
        json={"row_version": 0, "text": "", "subject": "", "statement": "input park: signal; wire C1-1"},
    ),
    "api-undo-last": _of_build(_post(_EDIT), json={}),
    "api-design-rows": Route(
        guards=_post(_EDIT), fill=_build(family="circuit"), foreign=(_build(family="taste"), _no_build(family="circuit")),
        json={"values": {"number": "201"}},
    ),
    "api-design-row": _of_row(
        {"GET": _SEE, "PATCH": _EDIT, "DELETE": _EDIT}, json={"row_version": 1, "values": {"legend": "OTHER"}}
    ),
    "api-step-ticks": Route(
        guards=_post(Action.TICK_STEP), fill=lambda shop, person: {"pk": shop.own.step.pk},
        foreign=(lambda shop, person: {"pk": 10**9},),
        json={"event_id": "8c1d1f0e-1111-4222-8333-444455556666", "at": "2026-12-09T10:40:00Z", "result": "pass"},
    ),
}  # fmt: skip


def _issue(**more: Any) -> Fill:
    return lambda shop, person: {"number": shop.own.number, "issue": shop.own.packet.number, **more}


def _of_issue(guards: dict[str, Guard]) -> Route:
    others: Fill = lambda shop, person: {"number": shop.own.number, "issue": shop.other.packet.number}  # noqa: E731
    return Route(guards=guards, fill=_issue(), foreign=(others, _issue(number="9999-nobody"), _issue(issue=10**9)))


def _of_link(guards: dict[str, Guard], kind: str, **more: Any) -> Route:
    """A page behind a token; a token of the other kind, a cut one and one never made open nothing."""
    names = {"handover": "handover_token", "vehicle": "vehicle_token"}
    wrong = names["vehicle" if kind == "handover" else "handover"]
    return Route(
        guards=guards, fill=lambda shop, person: {"token": getattr(shop.own, names[kind]), **more},
        foreign=(
            lambda shop, person: {"token": getattr(shop.own, wrong), **more},
            lambda shop, person: {"token": getattr(shop.own, names[kind])[:-1], **more},
            lambda shop, person: {"token": getattr(shop.own, kind if kind == "handover" else "vehicle_link").token_sha256, **more},
            lambda shop, person: {"token": "A" * 43, **more},
        ),
    )  # fmt: skip


def _packet_file() -> Route:
    """The customer of one build, asking for the packet of another."""
    return Route(
        guards=_get(Door.LINK),
        fill=lambda shop, person: {"token": shop.own.handover_token, "issue": shop.own.packet.number},
        foreign=(
            lambda shop, person: {"token": shop.own.handover_token, "issue": shop.other.packet.number},
            lambda shop, person: {"token": shop.other.handover_token, "issue": shop.own.packet.number},
            lambda shop, person: {"token": shop.own.vehicle_token, "issue": shop.own.packet.number},
        ),
    )


_PACKETS: dict[str, Route] = {
    "packet": _of_build(_get(Action.SEE_PACKET)),
    "packet-issue": _of_build(_post(Action.ISSUE_PACKET)),
    "packet-state": _of_issue(_get(Action.SEE_PACKET)),
    "packet-cancel": _of_issue(_post(Action.ISSUE_PACKET)),
    "packet-again": _of_issue(_post(Action.ISSUE_PACKET)),
    "link-make": _of_build(_post(Action.MAKE_LINK)),
    "vehicle-link-make": _of_build(_post(Action.MAKE_LINK), empty_is_fine=True),
    "link-revoke": Route(
        guards=_form(Action.MAKE_LINK), fill=lambda shop, person: {"number": shop.own.number, "uid": shop.own.handover.uid},
        foreign=(lambda shop, person: {"number": shop.own.number, "uid": shop.other.handover.uid},),
    ),
    "customer-home": _of_link(_get(Door.LINK), "handover"),
    "customer-quote": _of_link(_form(Door.LINK), "handover"),
    "customer-lights": _of_link(_get(Door.LINK), "handover"),
    "customer-packet": _of_link(_form(Door.LINK), "handover"),
    "customer-packet-file": _packet_file(),
    "vehicle-record": _of_link(_get(Door.LINK), "vehicle"),
}  # fmt: skip

ROUTES: dict[str, Route] = _DESK | _FLOOR | _YARD | _PACKETS | _API
