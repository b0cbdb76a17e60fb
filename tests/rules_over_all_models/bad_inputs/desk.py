"""Bad inputs at the desk: jobs, rows of the sheet, customers and their rules, holds, registers, people."""

from dataclasses import replace
from typing import Any

from builds.models import Customer, PlatformVersion, Role
from builds.selectors.engineering_inputs import design_of
from builds.views.row_edits import open_row
from tests.factories.builds import make_person
from tests.factories.two_builds import TwoBuilds
from tests.rules_over_all_models.bad_inputs.table import HEAD, PAGE, Bad, Good

__all__ = ["AT_DESK"]

HX = {"HX-Request": "true"}


def _no_arguments(shop: TwoBuilds) -> dict[str, Any]:
    return {}


def _number(shop: TwoBuilds, **more: Any) -> dict[str, Any]:
    return {"number": shop.own.number, **more}


JOB = Good(
    what="a job", route="build-open", fill=_no_arguments,
    data=lambda shop: {
        "customer": shop.own.build.customer_id, "title": "Incident van", "platform": PlatformVersion.objects.all()[0].pk,
        "kind": "new", "units": "us", "gauge_basis": "sae", "unit_number": "U-900", "vin": "1M8GDM9AXKP042788",
    },
)  # fmt: skip
JOB_AS_JSON = replace(JOB, what="a job sent as JSON", content_type="application/json", taken=None)
FROM_BUILD = Good(
    what="a job like another", route="build-open", fill=_no_arguments, query="?start=build",
    data=lambda shop: {"customer": shop.own.build.customer_id, "title": "Incident van 2", "source": shop.own.number},
)  # fmt: skip
FACTS = Good(
    what="facts of a build", route="build-facts", fill=_number,
    data=lambda shop: {"title": "Incident van", "units": "us", "row_version": shop.own.build.row_version, "vehicle_version": 1,
                       "unit_number": "U-901"},
)  # fmt: skip


def _circuit_row(shop: TwoBuilds) -> dict[str, Any]:
    """All fields of circuit 101 as the page sends them, the legend changed."""
    edit = open_row(shop.own.build, design_of(shop.own.build), "circuit", "101")
    shown = dict(edit.was)
    return {**shown, **{name.removeprefix("was-"): words for name, words in shown.items()}, "legend": "ROOF BAR",
            "row_version": edit.row_version, "load_version": edit.load_version}  # fmt: skip


ROW = Good(
    what="a circuit's row", route="row-edit", fill=lambda shop: _number(shop, family="circuit", key="101"), data=_circuit_row,
    taken=200, headers=HX,
)  # fmt: skip
NEW_ROW = Good(
    what="a new circuit", route="row-add", fill=lambda shop: _number(shop, family="circuit"), taken=200, headers=HX,
    data=lambda shop: _circuit_row(shop) | {"number": "901", "position": "6"},
)  # fmt: skip
LOADS_ON = Good(
    what="loads on in a condition", route="condition-loads", fill=lambda shop: _number(shop, key="idle"),
    data=lambda shop: {"on": ["L101", "L102"], "duty-L101": "50", "row_version": 1},
)  # fmt: skip
CUSTOMER = Good(
    what="a customer", route="customer-add", fill=_no_arguments,
    data=lambda shop: {"name": "Harrow Airfield", "email": "desk@harrow.example", "telephone": "555 0100"},
)  # fmt: skip
CUSTOMER_AGAIN = Good(
    what="what is known of a customer", route="customer-detail", fill=lambda shop: {"pk": shop.own.build.customer_id},
    data=lambda shop: {"name": shop.own.build.customer.name, "address": "4 Slip Road", "row_version": 1},
)  # fmt: skip
RULE = Good(
    what="a buyer's rule", route="rule-edit", fill=lambda shop: {"pk": shop.own.build.profile_id, "key": "conductor-margin"},
    data=lambda shop: {"value": "1.25", "source": "the buyer's letter", "row_version": 0},
)  # fmt: skip
SIGNER = Good(
    what="a buyer's signer", route="rule-edit", fill=lambda shop: {"pk": shop.own.build.profile_id, "key": "hold-signer"},
    data=lambda shop: {"value": "other_technician", "source": "the buyer's letter", "row_version": 0},
)  # fmt: skip
DROP = Good(
    what="a drop rule", route="drop-rule-edit", fill=lambda shop: {"pk": shop.own.build.profile_id},
    data=lambda shop: {"drop_class": "radio", "limit_ratio": "3", "base_v": "12", "current": "peak", "conductor_temp_c": "50",
                       "source": "the buyer's letter", "row_version": 0},
)  # fmt: skip
HOLD = Good(
    what="a hold", route="build-hold", fill=_number, data=lambda shop: {"reason": "parts", "who_acts": "stores"}
)
MOVE = Good(
    what="a move", route="build-move", fill=_number, data=lambda shop: {"to": "cancelled", "note": "the buyer gave up"}
)
AUTHORISATION = Good(
    what="an authorisation", route="revision-authorise", fill=lambda shop: _number(shop, letter="A"),
    data=lambda shop: {"kind": "purchase_order", "authorised_by": "P. Lund", "reference": "PO-2"},
)  # fmt: skip
OVERRIDE = Good(
    what="an override", route="build-override", fill=lambda shop: {"number": shop.faulty.number},
    data=lambda shop: {"finding": "device-above-conductor", "subject": "circuit:102", "reason": "the buyer's own lamp"},
)  # fmt: skip
SPLICE = Good(
    what="a splice", route="register-add", fill=lambda shop: _number(shop, register="splice"),
    data=lambda shop: {"circuit_number": "101", "place": "Behind locker 2", "method": "crimp"},
)  # fmt: skip
SERIAL = Good(
    what="a serial", route="register-add", fill=lambda shop: _number(shop, register="serial"),
    setup=lambda shop: shop.own.build.parts.update(quantity=2),
    data=lambda shop: {"part_line": shop.own.build.parts.all()[0].pk, "serial": "SN 2"},
)  # fmt: skip
HOLE = Good(
    what="a hole", route="register-add", fill=lambda shop: _number(shop, register="penetration"),
    data=lambda shop: {"label": "H2", "place": "Roof", "diameter_mm": "19"},
)  # fmt: skip
SEAL = Good(
    what="a seal", route="register-seal", fill=lambda shop: _number(shop, pk=shop.own.penetration.pk),
    data=lambda shop: {"sealed_with": "grommet", "row_version": 1},
)  # fmt: skip
SWAP = Good(
    what="a swapped device", route="register-swap", fill=lambda shop: _number(shop, pk=shop.own.serial.pk),
    data=lambda shop: {"serial": "SN 9", "note": "the first one failed"},
)  # fmt: skip
GEAR = Good(
    what="gear", route="register-add", fill=lambda shop: _number(shop, register="gear"),
    data=lambda shop: {"description": "Winch remote", "due_on": "2026-12-20"},
)  # fmt: skip
PERSON = Good(
    what="a person", route="person-add", fill=_no_arguments, setup=lambda shop: make_person(username="m.vale"),
    data=lambda shop: {"username": "l.tamm", "short_name": "L. Tamm", "role": "technician", "password": "a long enough phrase"},
)  # fmt: skip
PASSWORD = Good(
    what="a password", route="person-password", fill=lambda shop: {"pk": shop.people[Role.MANAGER].pk},
    data=lambda shop: {"password": "a long enough phrase"},
)  # fmt: skip
SIGN_IN = Good(
    what="a sign-in", route="sign-in", fill=_no_arguments, who=None,
    data=lambda shop: {"username": shop.people[Role.MANAGER].username, "password": "tern-point-demo"},
)  # fmt: skip

AT_DESK: list[Bad] = [
    *JOB.bad(
        ("no title", {"title": ""}, "title", "This may not stay empty."),
        ("a title of 161 letters", {"title": "x" * 161}, "title", "Use at most 160 characters."),
        ("a title with a NUL", {"title": "van\x00"}, "title", "Null characters are not allowed."),
        ("no customer", {"customer": ""}, "customer", "Choose a customer, or name a new one."),
        ("a customer that is none", {"customer": 10**30}, "customer", "Choose one of the list."),
        ("a customer as words", {"customer": "1 or 1=1"}, "customer", "Choose one of the list."),
        ("two customers", {"new_customer": "Ridgeway Roads"}, "new_customer", "is chosen above. Choose one of the two."),
        ("a new customer of a known name", lambda shop: {"customer": "", "new_customer": Customer.objects.all()[0].name},
         "new_customer", "There is a customer"),
        ("a mail address that is none", {"customer": "", "new_customer": "Ridgeway Roads", "email": "<b>nobody</b>"}, "email",
         "not an address that mail can be sent to"),
        ("no platform", {"platform": ""}, "platform", "Choose what vehicle it is."),
        ("a vehicle of another customer", lambda shop: {"vehicle": shop.other.build.vehicle_id}, "vehicle",
         "This vehicle belongs to another customer."),
        ("a VIN of 16 characters", {"vin": "1M8GDM9AXKP04278"}, "vin", "17"),
        ("a VIN with the letter O", {"vin": "1M8GDM9AXKPO42788"}, "vin", "O"),
        ("a check digit that does not fit", {"vin": "1M8GDM9A1KP042788"}, "vin", "Position 9 is 1"),
        ("a month 13", {"promised_on": "2026-13-01"}, "promised_on", "Write the day as year, month, day"),
        ("a day as Americans write it", {"promised_on": "12/18/2026"}, "promised_on", "Write the day as year, month, day"),
        ("the last year of all", {"promised_on": "9999-12-31"}, "promised_on", "Write a year from 2000 to 2100."),
        ("a year of five digits", {"promised_on": "12026-01-01"}, "promised_on", "Write the day as year, month, day"),
        ("a model year below zero", {"model_year": "-1"}, "model_year", "Type at least 1900"),
        ("a kind nobody knows", {"kind": "spaceship"}, "kind", "not one of the available choices"),
    ),
    *JOB_AS_JSON.bad(
        ("in a program's clothes", b'{"title": "Incident van"}', "title", "This may not stay empty."),
    ),
    *FROM_BUILD.bad(
        ("a build that is none", {"source": "9999"}, "source", "There is no build 9999."),
        ("a build with markup in its number", {"source": "<b>1</b>"}, "source", "There is no build <b>1</b>."),
        ("no number", {"source": " "}, "source", "Write the number of the build to start from."),
    ),
    *FACTS.bad(
        ("no title", {"title": "  "}, "title", "This may not stay empty."),
        ("a row seen before another change", {"row_version": 99}, HEAD, "changed"),
        ("someone who does not work here", {"responsible": 10**9}, "responsible", "Choose one of the list."),
        ("a VIN that another vehicle has", {"vin": "1M8GDM9AXKP0427889"}, "vin", "17"),
    ),
    *ROW.bad(
        ("a gauge not in the table", {"gauge": "15"}, "gauge", "Choose one of the list"),
        ("feet with a decimal comma", {"length_m": "12,5"}, "length_m", "Write the number with a point and no commas"),
        ("feet with thousands", {"length_m": "1,250"}, "length_m", "Write the number with a point and no commas"),
        ("a length below zero", {"length_m": "-1"}, "length_m", "Type at least 0"),
        ("a length of a thousand miles", {"length_m": "5280000"}, "length_m", "Type at most"),
        ("a length in the scientific way", {"length_m": "1e3"}, "length_m", "Type a number, such as 12.5."),
        ("a length that is none", {"length_m": "NaN"}, "length_m", "Type a number, such as 12.5."),
        ("a length of thirty digits", {"length_m": "1" * 30}, "length_m", "Type a shorter number."),
        ("a fuse of zero", {"device_rating_a": "0"}, "device_rating_a", "Type at least"),
        ("a position of half", {"position": "1.5"}, "position", "Type a whole number."),
        ("a position of zero", {"position": "0"}, "position", "Type at least 1"),
        ("a panel of nobody", {"panel": "P9"}, "panel", "Choose one of the list"),
        ("a zone of nobody", {"zones": "CAB, MOON"}, "zones", "MOON"),
        ("a legend of 61 letters", {"legend": "x" * 61}, "legend", "60"),
        ("a legend with a NUL", {"legend": "A\x00"}, "legend", "Null characters are not allowed."),
        ("a current with a comma", {"load-current_a": "1,5"}, "load-current_a", "Write the number with a point"),
        ("a row that changed meanwhile", {"row_version": 99}, HEAD, "Someone changed this row", 409),
    ),
    *NEW_ROW.bad(
        ("a number that is taken", {"number": "102"}, "number", '"102" is used already.'),
        ("no number", {"number": ""}, "number", "This may not stay empty."),
        ("a number with a line break", {"number": "9\n01"}, "number", "must be 1 to 40 letters, digits, spaces"),
    ),
    *LOADS_ON.bad(
        ("a duty of 200 %", {"duty-L101": "200"}, "duty-L101", "Type at most 100"),
        ("a duty of nothing", {"duty-L101": "0"}, "duty-L101", "Type at least"),
        ("a condition that changed meanwhile", {"row_version": 99}, HEAD, "Look through the list again"),
    ),
    *CUSTOMER.bad(
        ("no name", {"name": " "}, "name", "This may not stay empty."),
        ("a name of 121 letters", {"name": "x" * 121}, "name", "Use at most 120 characters."),
        ("a name that is taken", lambda shop: {"name": shop.own.build.customer.name}, "name", "There is a customer"),
        ("a mail address that is none", {"email": "desk at harrow"}, "email", "not an address that mail can be sent to"),
        ("rules of nobody", {"profile": 10**20}, "profile", "Choose one of the list."),
    ),
    *CUSTOMER_AGAIN.bad(
        ("a row that changed meanwhile", {"row_version": 99}, "address", "It is empty now. Keep again to set yours."),
    ),
    *RULE.bad(
        ("a margin of three", {"value": "3"}, "value", "Type at most 2"),
        ("a margin that is none", {"value": "Infinity"}, "value", "Type a number, such as 12.5."),
        ("no source", {"source": ""}, "source", "This may not stay empty."),
        ("a rule that changed meanwhile", {"row_version": 5}, "value", "changed"),
    ),
    *SIGNER.bad(
        ("a signer nobody knows", {"value": "the_dog"}, "value", "Choose one of the list."),
    ),
    *DROP.bad(
        ("a limit of nothing", {"limit_ratio": "0"}, "limit_ratio", "Type at least 0.01 %"),
        ("a base of zero volts", {"base_v": "0"}, "base_v", "Type at least 1 V"),
        ("a class of 31 letters", {"drop_class": "x" * 31}, "drop_class", "Use at most 30 characters."),
        ("a conductor hotter than any", {"conductor_temp_c": "900"}, "conductor_temp_c", "Type at most 150"),
    ),
    *HOLD.bad(
        ("no reason", {"reason": ""}, "reason", "This may not stay empty."),
        ("a reason nobody knows", {"reason": "weather"}, "reason", "Choose one of the list."),
        ("nobody who acts", {"who_acts": ""}, "who_acts", "This may not stay empty."),
    ),
    *MOVE.bad(
        ("no reason", {"note": "  "}, PAGE, "A reason is given.", 409),
        ("a stage nobody knows", {"to": "flying"}, PAGE, "There is no such stage.", 404),
        ("a stage too far", {"to": "delivered"}, PAGE, "cannot", 409),
        ("a reason with a NUL", {"note": "a\x00b"}, PAGE, "A text holds a NUL character"),
    ),
    *AUTHORISATION.bad(
        ("signed by a link, says the desk", {"kind": "link"}, "kind", "Choose one of the list."),
        ("nobody who authorised it", {"authorised_by": ""}, "authorised_by", "This may not stay empty."),
    ),
    *OVERRIDE.bad(
        ("a dot for a reason", {"reason": "."}, "reason", "Say why the build goes on in spite of this."),
        ("a finding that is none", {"finding": "bad-luck"}, PAGE, "This finding is no longer open.", 404),
        ("a finding of another circuit", {"subject": "circuit:101"}, PAGE, "This finding is no longer open.", 404),
    ),
    *SPLICE.bad(
        ("another build's circuit", {"circuit_number": "777"}, "circuit_number", "Choose a circuit of this build."),
        ("no place", {"place": ""}, "place", "This may not stay empty."),
    ),
    *SERIAL.bad(
        ("another build's device", lambda shop: {"part_line": shop.other.build.parts.all()[0].pk}, "part_line",
         "Choose a device of this build."),
        ("a serial written down already", {"serial": "SN 1"}, "serial", "This serial is written down for this line already."),
    ),
    *HOLE.bad(
        ("a diameter of zero", {"diameter_mm": "0"}, "diameter_mm", "Type at least 0.1 mm"),
        ("a diameter with a comma", {"diameter_mm": "19,5"}, "diameter_mm", "Write the number with a point"),
        ("a name that is used", {"label": "H1"}, "label", "This name is used in this build."),
    ),
    *SEAL.bad(
        ("nothing that seals", {"sealed_with": ""}, "sealed_with", "This may not stay empty."),
        ("a hole that changed meanwhile", {"row_version": 99}, "sealed_with", "It is empty now. Keep again to set yours."),
    ),
    *SWAP.bad(
        ("no reason", {"note": ""}, "note", "This may not stay empty."),
        ("the serial it has", {"serial": "SN 1"}, "serial", "This serial is written down for this line already."),
    ),
    *GEAR.bad(
        ("the 30th of February", {"due_on": "2026-02-30"}, "due_on", "Write the day as year, month, day"),
    ),
    *PERSON.bad(
        ("a name with a space", {"username": "l tamm"}, "username", "Use letters, digits, points and dashes."),
        ("a name in use", {"username": "m.vale"}, "username", "This name is in use."),
        ("a short password", {"password": "short"}, "password", "too short"),
        ("a password everybody has", {"password": "password123"}, "password", "too common"),
        ("a role nobody has", {"role": "king"}, "role", "not one of the available choices"),
    ),
    *PASSWORD.bad(
        ("a short one", {"password": "12"}, "password", "too short"),
    ),
    *SIGN_IN.bad(
        ("a wrong password", {"password": "wrong"}, HEAD, "do not belong together", 200),
        ("no name", {"username": ""}, "username", "Type your name.", 200),
    ),
]  # fmt: skip
