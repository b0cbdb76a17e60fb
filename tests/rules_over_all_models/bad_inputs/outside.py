"""Bad inputs from outside the pages: programs that speak to the API, and whoever holds (or guesses) a customer's link."""

import copy
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any
from uuid import uuid4

from django.utils import timezone

from builds.models import Build, CustomerLink, PacketIssue, Role, Stage
from builds.services import revisions
from tests.engineering.document.samples import small_document
from tests.factories.builds import AT
from tests.factories.two_builds import TwoBuilds
from tests.rules_over_all_models.bad_inputs.floor import SENT_BEFORE, TICK
from tests.rules_over_all_models.bad_inputs.table import HEAD, PAGE, Bad, Good

__all__ = ["FROM_OUTSIDE"]

CIRCUIT = {"family": "circuit", "key": "101"}


def _number(shop: TwoBuilds, **more: Any) -> dict[str, Any]:
    return {"number": shop.own.number, **more}


PATCH = Good(
    what="a row by the API", route="api-design-row", method="patch", json=True, taken=200,
    fill=lambda shop: _number(shop, **CIRCUIT), data=lambda shop: {"row_version": 1, "values": {"length_m": 4.25}},
)  # fmt: skip
PATCH_AS_FORM = replace(
    PATCH, what="a row sent as a form", content_type="application/x-www-form-urlencoded", taken=None
)
ADD = Good(
    what="a new row by the API", route="api-design-rows", json=True, taken=201,
    fill=lambda shop: _number(shop, family="load"),
    data=lambda shop: {"values": {"key": "L900", "circuit": "101", "name": "Lamp", "zone": "CAB", "model": "resistive",
                                  "current_a": 1, "at_v": 12}},
)  # fmt: skip
REMOVE = Good(
    what="a row taken out by the API", route="api-design-row", method="delete", json=True, taken=200, query="?row_version=1",
    fill=lambda shop: _number(shop, family="load", key="L101"), data=lambda shop: {},
)  # fmt: skip
REMOVE_UNSEEN = replace(REMOVE, what="a row taken out unseen", query="?row_version=last", taken=None)
REMOVE_OTHERS = replace(
    REMOVE,
    what="a row taken out of another build",
    fill=lambda shop: _number(shop, family="circuit", key="777"),
    taken=None,
)
API_TICK = Good(
    what="a tick by the API", route="api-step-ticks", json=True, taken=201, who=Role.TECHNICIAN, setup=TICK.setup,
    fill=lambda shop: {"pk": TICK.fill(shop)["pk"]},
    data=lambda shop: {"event_id": str(uuid4()), "at": "2026-12-09T10:40:00Z", "result": "pass", "reading": 0.05},
)  # fmt: skip
OPEN = Good(
    what="a document by the API", route="api-build-list", json=True, taken=201, fill=lambda shop: {},
    data=lambda shop: small_document(),
)  # fmt: skip
OPEN_AS_OTHER = replace(OPEN, what="a document under a number in use", query="?number=2601", taken=None)
OPEN_AS_PATH = replace(OPEN, what="a document under a number that is none", query="?number=../../1", taken=None)


def _changed_load(shop: TwoBuilds) -> dict[str, Any]:
    shop.own.build.loads.filter(key="L101").update(row_version=2)
    return {}


def _document(pointer: str, value: Any) -> Callable[[TwoBuilds], dict[str, Any]]:
    """The small document with another value at a pointer."""

    def changed(shop: TwoBuilds) -> dict[str, Any]:
        document = copy.deepcopy(small_document())
        *path, last = [int(step) if step.isdecimal() else step for step in pointer.strip("/").split("/")]
        place: Any = document
        for step in path:
            place = place[step]
        place[last] = value
        return document

    return changed


def _text(**replaced: str) -> bytes:
    """The small document as text, a value in it replaced by what JSON does not know."""
    text = json.dumps(small_document())
    for old, new in replaced.items():
        assert f'"{old}": ' in text
        before, _, after = text.partition(f'"{old}": ')
        text = f'{before}"{old}": {new}' + after[min(after.index(mark) for mark in ",}" if mark in after) :]
    return text.encode()


# --- what the customer sends ---


def _ready(shop: TwoBuilds) -> None:
    """A vehicle that waits for its customer's signature."""
    Build.objects.filter(pk=shop.own.build.pk).update(stage=Stage.READY)


def _quoted(shop: TwoBuilds) -> None:
    """A revision that nobody has ordered yet."""
    Build.objects.filter(pk=shop.own.build.pk).update(title="Incident van with a winch")
    shop.own.build.refresh_from_db()
    revisions.release(
        build=shop.own.build, summary="With a winch", by=shop.people[Role.MANAGER], at=shop.own.handover.made_at
    )


SIGN_PACKET = Good(
    what="a packet's signature", route="customer-packet", who=None, setup=_ready,
    fill=lambda shop: {"token": shop.own.handover_token},
    data=lambda shop: {"sha256": shop.own.packet.file.sha256, "typed_name": "P. Lund", "capacity": "fleet chief",
                       "consents": "on"},
)  # fmt: skip
SIGN_QUOTE = Good(
    what="a quote's signature", route="customer-quote", who=None, setup=_quoted,
    fill=lambda shop: {"token": shop.own.handover_token},
    data=lambda shop: {"sha256": shop.own.build.revisions.order_by("-sequence")[0].document_id, "typed_name": "P. Lund",
                       "consents": "on"},
)  # fmt: skip
LINK = Good(
    what="a link", route="link-make", fill=_number, taken=200, data=lambda shop: {"made_for": "P. Lund", "days": "30"}
)
ISSUE = Good(what="a packet", route="packet-issue", fill=_number, data=lambda shop: {})
REVOKE = Good(
    what="a closed link", route="link-revoke", fill=lambda shop: _number(shop, uid=shop.own.handover.uid),
    data=lambda shop: {},
)  # fmt: skip
AGAIN = Good(
    what="a packet rendered again", route="packet-again", fill=lambda shop: _number(shop, issue=shop.own.packet.number),
    setup=lambda shop: PacketIssue.objects.filter(pk=shop.own.packet.pk).update(state="failed", file=None) and None,
    data=lambda shop: {},
)  # fmt: skip


def _links(**columns: Any) -> Callable[[TwoBuilds], dict[str, Any]]:
    def change(shop: TwoBuilds) -> dict[str, Any]:
        values = {name: value(shop) if callable(value) else value for name, value in columns.items()}
        CustomerLink.objects.filter(pk=shop.own.handover.pk).update(**values)
        return {}

    return change


def _expire(shop: TwoBuilds) -> dict[str, Any]:
    return _links(expires_at=timezone.now() - timedelta(seconds=1))(shop)


def _revoke(shop: TwoBuilds) -> dict[str, Any]:
    return _links(revoked_at=AT, revoked_by=shop.people[Role.MANAGER])(shop)


def _edited(shop: TwoBuilds) -> dict[str, Any]:
    shop.own.build.circuits.filter(number="101").update(length_m=5)
    return {}


def _ready_again(shop: TwoBuilds) -> dict[str, Any]:
    PacketIssue.objects.filter(pk=shop.own.packet.pk).update(state="ready", file=shop.own.packet.file)
    return {}


FROM_OUTSIDE: list[Bad] = [
    *PATCH.bad(
        ("half a body", b'{"row_version": 1, ', HEAD, "The body is not JSON: line 1", 400),
        ("nothing", b"", "values", "Send the fields and their values as an object in braces."),
        ("a list", b"[1]", HEAD, "must be an object in braces", 400),
        ("NaN", b'{"row_version": 1, "values": {"length_m": NaN}}', HEAD, "NaN is not a number.", 400),
        ("minus infinity", b'{"row_version": 1, "values": {"length_m": -Infinity}}', HEAD, "is not a number.", 400),
        ("a key twice", b'{"row_version": 1, "row_version": 2, "values": {"gauge": "14"}}', HEAD, "stands there twice", 400),
        ("not UTF-8", b'{"row_version": "\xff"}', HEAD, "The body is not UTF-8 text.", 400),
        ("a NUL", b'{"row_version": 1, "values": {"legend": "A\\u0000B"}}', HEAD, "holds a NUL character", 400),
        ("half a character", b'{"row_version": 1, "values": {"legend": "\\ud800"}}', HEAD, "half of a character pair", 400),
        ("twenty thousand braces", b'{"values":' * 20_000 + b"1" + b"}" * 20_000, HEAD, "The body is not plain JSON", 400),
        ("ten megabytes", b'{"values": "' + b"x" * 10_000_000 + b'"}', HEAD, "larger than 5 MB", 400),
        ("a number of 5,000 digits", b'{"row_version": ' + b"9" * 5000 + b"}", HEAD, "The body is not plain JSON", 400),
        ("no version", {"row_version": None}, "row_version", "Send the row_version that you saw, a whole number."),
        ("a version that is a flag", {"row_version": True}, "row_version", "a whole number."),
        ("a version of nineteen digits", {"row_version": 10**19}, HEAD, "changed", 409),
        ("a version seen before another change", {"row_version": 99}, HEAD, "changed", 409),
        ("no values", {"values": {}}, "values", "Send the fields and their values as an object in braces."),
        ("a field nobody knows", {"values": {"taste": 1}}, "taste", "There is no such field here."),
        ("a length as text", {"values": {"length_m": "4"}}, "length_m", "Must be a number, not text"),
        ("a length with four decimals", {"values": {"length_m": 4.0005}}, "length_m", "has more than 3 decimals"),
        ("a length below zero", {"values": {"length_m": -1}}, "length_m", "must be from 0 to 100"),
        ("a length of 400 digits", b'{"row_version": 1, "values": {"length_m": 1e400}}', "length_m", "1E+400 must be from 0 to 100."),
        ("another build's panel", {"values": {"panel": "P9"}}, "panel", 'There is no node "P9" in this build.'),
        ("a legend with markup too long", {"values": {"legend": "<script>" * 20}}, "legend", "at most 60 are kept"),
        ("its number taken from another", {"values": {"number": "102"}}, "number", '"102" is used already.'),
    ),
    *PATCH_AS_FORM.bad(
        ("in a form's clothes", {}, HEAD, "Unsupported media type", 415),
    ),
    *ADD.bad(
        ("a circuit of another build", {"values": {"key": "L900", "circuit": "777", "name": "Lamp", "zone": "CAB",
         "model": "resistive", "current_a": 1, "at_v": 12}}, "circuit", 'There is no circuit "777" in this build.'),
        ("half of its fields", {"values": {"key": "L900"}}, "circuit", "Is missing."),
    ),
    *REMOVE_UNSEEN.bad(
        ("without a version", {}, "row_version", "Send the row_version that you saw, a whole number."),
    ),
    *REMOVE.bad(
        ("a load of a circuit after another change", _changed_load, HEAD, "changed", 409),
    ),
    *REMOVE_OTHERS.bad(
        ("by its number alone", {}, HEAD, "has no circuit 777", 404),
    ),
    *API_TICK.bad(
        ("an id that is none", {"event_id": "1"}, "event_id", "Send an id made by the device, a UUID."),
        ("a time without its zone", {"at": "2026-12-09T10:40:00"}, "at", "with its time zone"),
        ("the 31st of February", {"at": "2026-02-31T10:40:00Z"}, "at", "with its time zone"),
        ("a reading as text", {"reading": "0.05"}, "reading", "Send a number, or leave it out."),
        ("a reading as a flag", {"reading": True}, "reading", "Send a number, or leave it out."),
        ("a reading of a billion", {"reading": 10**9}, "reading", "Write a plain figure with at most 4 decimals."),
        ("a result nobody knows", {"result": "fine"}, "result", "Send pass, defective or not_applicable."),
        ("a sequence below zero", {"device_sequence": -1}, "device_sequence", "a whole number."),
        ("an id that stands for another tick", {"event_id": SENT_BEFORE}, HEAD, "already stands for another entry", 409),
        ("a pass beyond its limit", {"reading": 0.2}, "reading", "it cannot pass"),
    ),
    *OPEN.bad(
        ("another format", {"format": "recipe"}, "/format", "baywright-build"),
        ("a schema of the future", {"schema": 99}, "/schema", "99 is newer than this version reads"),
        ("no build", {"build": []}, "/build", "must be a group of fields in braces"),
        ("an empty title", _document("/build/title", ""), "/build/title", "must not be empty"),
        ("a title with a NUL", _document("/build/title", "van\x00"), "/build/title", "a character that cannot be printed"),
        ("a title with half a character", _document("/build/title", "\ud800"), "/build/title", "a character that cannot be printed"),
        ("a number in quotation marks", _document("/build/circuits/0/length_m", "4"), "/build/circuits/0/length_m",
         "must be a number"),
        ("a length below zero", _document("/build/circuits/0/length_m", -1), "/build/circuits/0/length_m", "must be from 0 to 100"),
        ("NaN for a length", _text(length_m="NaN"), "/build/platform/routes/0/length_m", "NaN"),
        ("a length of 400 digits", _text(length_m="1e400"), "/build/platform/routes/0/length_m", "must be from 0"),
        ("a panel of nobody", _document("/build/circuits/0/panel", "P9"), "/build/circuits/0/panel", 'there is no node "P9" in this document'),
        ("a platform without seats", _document("/build/platform/seats", 0), "/build/platform/seats", "0 must be from 1 to 10000"),
        ("ten megabytes", b'{"x": "' + b"x" * 10_000_000 + b'"}', HEAD, "The body is too large, or broken on its way.", 400),
        ("a hundred thousand brackets", b"[" * 100_000, "", "brackets are nested more than 12 deep"),
        ("nothing", b"", "", "the text is empty"),
    ),
    *OPEN_AS_OTHER.bad(
        ("the number of another", {}, "number", "This number is taken.", 409),
    ),
    *OPEN_AS_PATH.bad(
        ("a path", {}, "number", "1 to 12 letters, digits and -"),
    ),
    *SIGN_PACKET.bad(
        ("no name", {"typed_name": "  "}, "typed_name", "Type your name: it stands for your signature."),
        ("a name of 121 letters", {"typed_name": "x" * 121}, "typed_name", "A name of at most 120 letters."),
        ("a name with a NUL", {"typed_name": "P\x00"}, "typed_name", "Null characters are not allowed."),
        ("no consent", {"consents": ""}, "consents", "Tick the sentence if you agree to it."),
        ("another packet's hash", lambda shop: {"sha256": shop.other.packet.file.sha256}, HEAD, "not the one that is stored"),
        ("no hash", {"sha256": ""}, HEAD, "not the one that is stored"),
        ("a capacity of 81 letters", {"capacity": "x" * 81}, "capacity", "Use at most 80 letters."),
        ("a link that is over", _expire, PAGE, "Its time is over. Ask the shop for a new one", 410),
        ("a link that was closed", _revoke, PAGE, "It may have been closed by the shop", 404),
    ),
    *SIGN_QUOTE.bad(
        ("no name", {"typed_name": ""}, "typed_name", "Type your name: it stands for your signature."),
        ("no consent", {"consents": ""}, "consents", "Tick the sentence if you agree to it."),
        ("the hash of the revision before", lambda shop: {"sha256": "0" * 64}, HEAD, "The quote has changed since you read it."),
        ("a link that is over", _expire, PAGE, "Its time is over.", 410),
    ),
    *LINK.bad(
        ("nobody who gets it", {"made_for": " "}, "made_for", "Say who gets the link."),
        ("no days", {"days": "0"}, "days", "Give it from 1 to 365 days."),
        ("a year and a day", {"days": "366"}, "days", "Give it from 1 to 365 days."),
        ("days below zero", {"days": "-5"}, "days", "Give it from 1 to 365 days."),
        ("days as words", {"days": "ten"}, "days", "Write a number of days."),
        ("days of thirty digits", {"days": "9" * 30}, "days", "Give it at most 365 days."),
    ),
    *ISSUE.bad(
        ("a design changed since its revision", _edited, PAGE, "The design has changed since revision A.", 409),
    ),
    *REVOKE.bad(
        ("one closed already", _revoke, PAGE, "This link is closed already.", 409),
    ),
    *AGAIN.bad(
        ("one that did not fail", _ready_again, PAGE, "Only a packet that failed is rendered again", 409),
    ),
]  # fmt: skip
