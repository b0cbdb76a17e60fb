"""What happens to a whole build on its sheet: revisions, authorisations, moves, holds, overrides, registers."""

from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from builds.models import Authorisation, Build, ChecklistStep, FindingOverride, Role, Stage
from builds.selectors.packet_input import recorded_values
from builds.services import acceptances, authorisations, customer_links, revisions
from builds.services.acceptances import Signature
from builds.services.bays import enter_bay
from tests.builds.views.sheets import HTMX, keep
from tests.factories.builds import AT, make_designed_build, make_person, make_shop
from tests.factories.floor import check_in, make_bay
from tests.factories.packets import make_packet_build, make_ready_packet

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager(client: Client) -> Any:
    make_shop()
    person = make_person(Role.MANAGER, short_name="S. Brandt")
    client.force_login(person)
    return person


@pytest.fixture
def build(manager: Any) -> Build:
    return make_designed_build(manager)


def go(client: Client, build: Build, path: str, **sent: Any) -> Any:
    return client.post(f"/builds/{build.number}/{path}", sent)


def test_build_goes_from_intake_to_approved_on_its_sheet(client: Client, build: Build) -> None:
    go(client, build, "release/", summary="first quote")
    go(client, build, "move/", to="quoted")
    response = go(
        client, build, "revisions/A/authorise/", kind="purchase_order", authorised_by="C. Reed", reference="PO-1"
    )
    go(client, build, "move/", to="approved")

    build.refresh_from_db()
    assert response.status_code == 302
    assert build.stage == Stage.APPROVED
    assert Authorisation.objects.get().document_sha256 == build.revisions.get().document_id


def test_moves_say_what_they_still_miss(client: Client, build: Build) -> None:
    text = client.get(f"/builds/{build.number}/stages/", headers=HTMX).content.decode()
    assert "Move to quoted waits until:" in text and "A revision is released." in text

    response = go(client, build, "move/", to="quoted")

    assert response.status_code == 409 and "A revision is released." in response.content.decode()
    build.refresh_from_db()
    assert build.stage == Stage.INTAKE


@pytest.mark.parametrize(("to", "status"), [("nowhere", 404), ("", 404), ("closed", 409)])
def test_move_that_does_not_exist_is_refused(client: Client, build: Build, to: str, status: int) -> None:
    assert go(client, build, "move/", to=to).status_code == status


def test_cancelling_asks_for_a_reason(client: Client, build: Build) -> None:
    refused = go(client, build, "move/", to="cancelled", note="")
    assert refused.status_code == 409 and "A reason is given." in refused.content.decode()

    go(client, build, "move/", to="cancelled", note="bought another truck")

    build.refresh_from_db()
    assert build.stage == Stage.CANCELLED


def test_release_asks_for_words_and_for_a_change(client: Client, build: Build) -> None:
    assert "Say in a few words what changed." in go(client, build, "release/", summary=" ").content.decode()
    go(client, build, "release/", summary="first")

    again = go(client, build, "release/", summary="second")

    assert again.status_code == 409 and "Nothing has changed since revision A." in again.content.decode()
    assert build.revisions.count() == 1


def test_authorisation_that_says_too_little_is_refused_at_its_fields(
    client: Client, build: Build, manager: Any
) -> None:
    revisions.release(build=build, summary="first", by=manager, at=AT)

    response = go(client, build, "revisions/A/authorise/", kind="link", authorised_by="", reference="")

    assert response.status_code == 422
    assert set(response.context["form"].errors) == {"kind", "authorised_by", "reference"}
    assert go(client, build, "revisions/Z/authorise/").status_code == 404


def test_hold_names_who_acts_and_is_lifted(client: Client, build: Build) -> None:
    wrong = go(client, build, "hold/", reason="parts", who_acts="")
    assert wrong.status_code == 422 and "This may not stay empty." in wrong.content.decode()

    go(client, build, "hold/", reason="parts", who_acts="Stores", note="cone rack bracket")
    page = client.get(f"/builds/{build.number}/").content.decode()
    assert "Stores: cone rack bracket" in page and "Waiting: parts" in page

    go(client, build, "hold/lift/", note="came in")
    build.refresh_from_db()
    assert not build.on_hold


def test_override_keeps_name_and_reason_beside_the_finding(client: Client, build: Build) -> None:
    build.circuits.filter(number="101").update(length_m=60, gauge="18")
    page = client.get(f"/builds/{build.number}/").content.decode()
    assert "drop-over-limit" in page and "Override and say why" in page
    sent = {"finding": "drop-over-limit", "subject": "circuit:101"}
    short = go(client, build, "override/", **sent, reason="ok")
    assert short.status_code == 422 and "Say why the build goes on in spite of this." in short.content.decode()

    go(client, build, "override/", **sent, reason="lamp works down to 9 V, see data sheet")

    assert FindingOverride.objects.get().reason == "lamp works down to 9 V, see data sheet"
    assert "S. Brandt goes on" in client.get(f"/builds/{build.number}/").content.decode()


def test_override_of_what_is_not_found_is_not_here(client: Client, build: Build) -> None:
    response = client.get(f"/builds/{build.number}/override/?finding=drop-over-limit&subject=circuit:999")

    assert response.status_code == 404


@pytest.mark.parametrize(
    ("register", "sent", "shown"),
    [
        (
            "splice",
            {"circuit_number": "101", "place": "left sill, 30 cm behind the pillar", "method": "crimp, sealed"},
            "left sill",
        ),
        (
            "penetration",
            {"label": "H3", "place": "firewall", "diameter_mm": "19.5", "sealed_with": ""},
            "Not sealed yet",
        ),
        ("gear", {"description": "Radio set", "due_on": "2026-12-01"}, "Not here yet"),
        (
            "removed",
            {"description": "Centre console", "kept_at": "bin 4", "disposition": "back to the customer"},
            "bin 4",
        ),
    ],
)
def test_register_entry_is_written_and_shown(
    client: Client, build: Build, register: str, sent: dict[str, str], shown: str
) -> None:
    response = go(client, build, f"registers/{register}/add/", **sent)

    assert response.status_code == 302
    assert shown in client.get(f"/builds/{build.number}/").content.decode()


@pytest.mark.parametrize(
    ("register", "sent", "words"),
    [
        ("splice", {"circuit_number": "999", "place": "x", "method": "y"}, "Choose a circuit of this build."),
        ("splice", {"circuit_number": "101", "place": "", "method": "y"}, "This may not stay empty."),
        ("penetration", {"label": "H3", "place": "x", "diameter_mm": "0"}, "Type at least 0.1 mm."),
        ("penetration", {"label": "H3", "place": "x", "diameter_mm": "19,5"}, "Write the number with a point"),
        ("gear", {"description": "Radio", "due_on": "soon"}, "Write the day as year, month, day"),
        ("serial", {"part_line": "99999", "serial": "1"}, "Choose a device of this build."),
    ],
)
def test_register_entry_that_cannot_be_taken_is_refused_at_its_field(
    client: Client, build: Build, register: str, sent: dict[str, str], words: str
) -> None:
    response = go(client, build, f"registers/{register}/add/", **sent)

    assert response.status_code == 422 and words in response.content.decode()


def test_serial_is_written_and_swapped_with_a_reason(client: Client, build: Build) -> None:
    line = build.parts.get(key="1")
    go(client, build, "registers/serial/add/", part_line=line.pk, serial="SN-1", note="")
    entry = build.serials.get()

    go(client, build, f"registers/serial/{entry.pk}/swap/", serial="SN-2", note="dead on arrival")

    assert [item.serial for item in build.serials.order_by("pk")] == ["SN-1", "SN-2"]
    assert "replaced by SN-2" in client.get(f"/builds/{build.number}/").content.decode()


def test_gear_is_received_and_a_hole_is_sealed(client: Client, build: Build) -> None:
    go(client, build, "registers/gear/add/", description="Radio set")
    go(client, build, "registers/penetration/add/", label="H1", place="roof", diameter_mm="25")
    gear, hole = build.gear.get(), build.penetrations.get()

    go(client, build, f"registers/gear/{gear.pk}/receive/", condition="scratched lid", row_version=1)
    go(client, build, f"registers/penetration/{hole.pk}/seal/", sealed_with="gland and sealer", row_version=1)

    page = client.get(f"/builds/{build.number}/").content.decode()
    assert "scratched lid" in page and "gland and sealer" in page


def test_entry_of_another_build_is_not_here(client: Client, build: Build, manager: Any) -> None:
    go(client, build, "registers/gear/add/", description="Radio set")
    other = make_designed_build(manager)

    response = go(client, other, f"registers/gear/{build.gear.get().pk}/receive/", condition="x")

    assert response.status_code == 404
    assert go(client, build, "registers/nothing/add/").status_code == 404


def test_delivery_waits_for_unreleased_changes_and_is_warned_of_a_vehicle_that_is_still_here(
    client: Client, manager: Any
) -> None:
    build = make_packet_build(manager)
    Build.objects.filter(pk=build.pk).update(stage=Stage.READY)
    build.refresh_from_db()
    assert f'href="/builds/{build.number}/packet/#links-title">Get it signed' in sheet_of(client, build)
    packet = make_ready_packet(build, manager)
    link = customer_links.make_handover_link(build=build, made_for="P. Lund", by=manager, at=timezone.now()).link
    assert packet.file is not None
    signature = Signature(
        sha256=packet.file.sha256, typed_name="P. Lund", consents=True, capacity="", address="192.0.2.7"
    )
    acceptances.sign_packet(link=link, packet=packet, signature=signature, at=timezone.now())
    assert f'href="/builds/{build.number}/stages/">Hand over' in sheet_of(client, build)
    assert "By the record" not in client.get(f"/builds/{build.number}/stages/").content.decode()

    check_in(build, manager, at=timezone.now())
    enter_bay(build=build, place=make_bay(name="Bay 2"), event_id=uuid4(), by=manager, at=timezone.now())
    text = client.get(f"/builds/{build.number}/stages/").content.decode()
    assert "the vehicle is still here (Bay 2)" in text and f'href="/yard/{build.number}/check-in/"' in text
    assert "Move to delivered</button>" in text  # said, not refused: the vehicle may be gone all the same

    assert keep(client, build.number, "circuit:101", legend="OTHER").status_code == 200
    text = client.get(f"/builds/{build.number}/stages/").content.decode()
    assert "release what has changed since" in text and "Move to delivered</button>" not in text


def sheet_of(client: Client, build: Build) -> str:
    return str(client.get(f"/builds/{build.number}/").content.decode())


def test_a_step_stays_open_over_the_final_check_only_as_an_open_item(
    client: Client, build: Build, manager: Any
) -> None:
    revision = revisions.release(build=build, summary="as ordered", by=manager, at=AT)
    authorisations.record(
        revision=revision, kind="purchase_order", authorised_by="P. Lund", reference="PO-1", by=manager, at=AT
    )
    for line, (key, title) in enumerate((("op/O1", "Fit the scene lamp"), ("op/O2", "Fit the console")), start=1):
        result = {"result": "pass", "result_by": manager, "result_at": AT} if line == 2 else {}
        ChecklistStep.objects.create(
            build=build, key=key, line=line, phase="fit", place="vehicle", title=title, **result
        )
    Build.objects.filter(pk=build.pk).update(stage=Stage.IN_WORK)
    step = build.steps.get(key="op/O1")
    sent = {
        f"open-{step.pk}-{name}": text
        for name, text in (("part", "Lamp"), ("reason", "late"), ("by_when", "2031-01-09"))
    }

    page = client.get(f"/builds/{build.number}/stages/").content.decode()
    short = go(client, build, "move/", to="final_check", **sent)
    past = go(
        client,
        build,
        "move/",
        to="final_check",
        **sent | {f"open-{step.pk}-by_when": "2020-01-09", f"open-{step.pk}-who_returns": "we"},
    )
    kept = go(client, build, "move/", to="final_check", **sent | {f"open-{step.pk}-who_returns": "the shop"})

    assert "1 step not done" in page and "Fit the scene lamp" in page and "Fit the console" not in page
    assert short.status_code == 422 and "This may not stay empty." in short.content.decode()
    assert past.status_code == 422 and "Name a day that is still to come." in past.content.decode()
    assert kept.status_code == 302
    build.refresh_from_db()
    assert build.stage == Stage.FINAL_CHECK
    (left,) = [one["left_open"] for one in recorded_values(build, up_to=revision)["steps"] if one["left_open"]]
    assert left == "Lamp: late; the shop comes back by 2031-01-09"


def test_a_step_that_may_never_stay_open_says_so_where_it_would_be_named(
    client: Client, build: Build, manager: Any
) -> None:
    revision = revisions.release(build=build, summary="as ordered", by=manager, at=AT)
    authorisations.record(
        revision=revision, kind="purchase_order", authorised_by="P. Lund", reference="PO-1", by=manager, at=AT
    )
    ChecklistStep.objects.create(
        build=build, key="seal", line=1, phase="wire", place="vehicle", title="Seal every hole"
    )
    Build.objects.filter(pk=build.pk).update(stage=Stage.IN_WORK)

    page = client.get(f"/builds/{build.number}/stages/").content.decode()
    refused = go(client, build, "move/", to="final_check", note="sealed on Monday")

    assert "This is a sealed penetration: it is never left open." in page
    assert refused.status_code == 409
    build.refresh_from_db()
    assert build.stage == Stage.IN_WORK
