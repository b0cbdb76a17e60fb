"""Editing rows in place: kept, previewed, refused at the field, merged, undone; with htmx and on a plain form."""

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from builds.models import Build, Circuit, EditBatch, Load, Role
from builds.selectors.engineering_inputs import design_of
from builds.services import design_edits
from tests.builds.views.sheets import HTMX, keep, marks, opened
from tests.factories.builds import AT, make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def designer(client: Client) -> Any:
    make_shop()
    person = make_person(Role.DESIGNER, short_name="M. Vale")
    client.force_login(person)
    return person


@pytest.fixture
def build(designer: Any) -> Build:
    return make_designed_build(designer, circuits=3)


def test_kept_row_comes_back_with_strip_and_rows_it_moved_in_one_answer(client: Client, build: Build) -> None:
    seen = marks(client.get(f"/builds/{build.number}/").content.decode())

    response = keep(client, build.number, "circuit:101", length_m="30", seen=seen)

    text = response.content.decode()
    assert response.status_code == 200
    assert text.startswith('<tbody id="circuit-101"')
    assert 'id="strip"' in text and text.count('hx-swap-oob="true"') >= 1
    assert response["HX-Retarget"] == "#circuit-101" and response["HX-Reswap"] == "outerHTML"
    assert build.circuits.get(number="101").length_m == Decimal("9.144")


def test_untouched_figures_keep_their_exact_values(client: Client, build: Build) -> None:
    Circuit.objects.filter(build=build, number="101").update(
        length_m=Decimal("3.658"), return_length_m=Decimal("0.457")
    )
    assert opened(client, build.number, "circuit:101")["length_m"] == "12"

    keep(client, build.number, "circuit:101", legend="FRONT LAMP")

    row = build.circuits.get(number="101")
    assert (row.length_m, row.return_length_m, row.legend) == (Decimal("3.658"), Decimal("0.457"), "FRONT LAMP")


def test_row_kept_as_it_was_is_no_edit(client: Client, build: Build) -> None:
    response = keep(client, build.number, "circuit:101")

    assert response.status_code == 200
    assert not EditBatch.objects.exists()


def test_current_of_the_only_load_is_typed_beside_its_circuit_as_one_edit(client: Client, build: Build) -> None:
    response = keep(client, build.number, "circuit:101", gauge="12", load_current_a="3.5")

    assert response.status_code == 200
    assert build.loads.get(key="L101").current_a == Decimal("3.500")
    assert build.circuits.get(number="101").gauge == "12"
    assert EditBatch.objects.count() == 1


def test_preview_says_what_would_change_and_keeps_nothing(client: Client, build: Build) -> None:
    sent = opened(client, build.number, "circuit:101") | {"length_m": "60"}

    response = client.post(f"/builds/{build.number}/row-preview/circuit/101/", sent, headers=HTMX)

    text = response.content.decode()
    assert "If you keep it: drop" in text and "→" in text and "fuse <strong>stays 5 A" in text
    assert "hours <strong>no change" in text
    assert build.circuits.get(number="101").length_m == Decimal("3.000")
    assert not EditBatch.objects.exists()


@pytest.mark.parametrize(
    ("subject", "field", "typed", "words"),
    [
        ("circuit:101", "length_m", "12,5", "Write the number with a point and no commas"),
        ("circuit:101", "length_m", "twelve", "Type a number, such as 12.5."),
        ("circuit:101", "length_m", "-1", "Type at least 0 ft."),
        ("circuit:101", "length_m", "400", "Type at most 328.08 ft."),
        ("circuit:101", "length_m", "", "Type a number."),
        ("circuit:101", "length_m", "1e2", "Type a number, such as 12.5."),
        ("circuit:101", "length_m", "9" * 30, "Type a shorter number."),
        ("circuit:101", "device_rating_a", "0", "Type at least 0.1 A."),
        ("circuit:101", "device_rating_a", "1.2345", "Use at most 3 decimals."),
        ("circuit:101", "gauge", "99", "Choose one of the list"),
        ("circuit:101", "position", "1.5", "Type a whole number."),
        ("circuit:101", "position", "0", "Type at least 1."),
        ("circuit:101", "panel", "P9", "Choose one of the list"),
        ("circuit:101", "zones", "CAB, MOON", "MOON"),
        ("circuit:101", "legend", "L" * 61, "at most 60"),
        ("load:L101", "current_a", "nan", "Type a number, such as 12.5."),
        ("load:L101", "duty_ratio", "0", "Type at least 0.01 %."),
        ("load:L101", "duty_ratio", "101", "Type at most 100 %."),
        ("load:L101", "key_off_a", "0.5", "Type a whole number."),
        ("load:L101", "name", "", "This may not stay empty."),
        ("operation:O1", "standard_h", "1001", "Type at most 1000 h."),
        ("operation:O1", "after", "O9", "O9"),
        ("part:1", "quantity", "0", "Type at least 0.001."),
        ("condition:idle", "source_low_v", "20", "source_high_v"),
        ("node:BAT1", "battery__usable_ratio", "120", "Type at most 100 %."),
        ("run:R2", "from_node", "P1", ""),
    ],
)  # fmt: skip
def test_bad_input_is_said_at_the_field_and_nothing_is_kept(
    client: Client, build: Build, subject: str, field: str, typed: str, words: str
) -> None:
    response = keep(client, build.number, subject, **{field: typed})

    assert response.status_code == 422
    text = response.content.decode()
    assert "field-error" in text and words in text.replace("&#x27;", "'")
    assert "data-edit" in text
    assert not EditBatch.objects.exists()
    assert Build.objects.get(pk=build.pk).design_version == 1


def test_stale_row_shows_both_values_and_keeps_neither_yet(client: Client, build: Build, designer: Any) -> None:
    sent = opened(client, build.number, "circuit:101") | {"gauge": "12"}
    design_edits.edit_row(
        build=build, family="circuit", key="101", values={"gauge": "10"}, row_version=1, by=designer, at=AT
    )

    response = client.post(f"/builds/{build.number}/rows/circuit/101/", sent, headers=HTMX)

    text = response.content.decode()
    assert response.status_code == 409
    assert "Keep mine: <strong>12</strong>" in text and "Take theirs: <strong>10</strong>" in text
    assert build.circuits.get(number="101").gauge == "10"


def test_row_keeps_what_only_one_changed_without_a_question(client: Client, build: Build, designer: Any) -> None:
    sent = opened(client, build.number, "circuit:101") | {"legend": "FRONT LAMP"}
    design_edits.edit_row(
        build=build, family="circuit", key="101", values={"gauge": "10"}, row_version=1, by=designer, at=AT
    )

    response = client.post(f"/builds/{build.number}/rows/circuit/101/", sent, headers=HTMX)

    row = build.circuits.get(number="101")
    assert response.status_code == 200
    assert (row.gauge, row.legend) == ("10", "FRONT LAMP")


def test_merged_row_says_what_the_other_changed_until_the_next_edit(client: Client, build: Build) -> None:
    sent = opened(client, build.number, "circuit:101") | {"legend": "FRONT LAMP"}
    other = make_person(Role.DESIGNER)
    for version, values in enumerate(({"gauge": "10"}, {"length_m": 6.096}), start=1):
        design_edits.edit_row(
            build=build, family="circuit", key="101", values=values, row_version=version, by=other, at=AT
        )

    kept = client.post(f"/builds/{build.number}/rows/circuit/101/", sent, headers=HTMX).content.decode()
    live = client.post(f"/builds/{build.number}/live/", {}, headers=HTMX).content.decode()
    after = client.post(f"/builds/{build.number}/undo/", {}, headers=HTMX).content.decode()

    assert f"Circuit 101: {other} changed Gauge from 16 to 10." in kept
    assert f"Circuit 101: {other} changed Length from 9.84 ft to 20 ft." in kept  # 3 m, in the build's own units
    assert 'id="merged"' not in live
    assert 'id="merged"' in after and "while you had it open" not in after


def test_merged_row_is_told_on_a_page_without_scripts_too(client: Client, build: Build, designer: Any) -> None:
    sent = opened(client, build.number, "circuit:101") | {"legend": "FRONT LAMP"}
    other = make_person(Role.DESIGNER)
    design_edits.edit_row(
        build=build, family="circuit", key="101", values={"gauge": "10"}, row_version=1, by=other, at=AT
    )

    page = client.post(f"/builds/{build.number}/rows/circuit/101/", sent, follow=True).content.decode()

    assert f"Circuit 101: {other} changed Gauge from 16 to 10." in page


@pytest.mark.parametrize(("choice", "gauge"), [("mine", "12"), ("theirs", "10")])
def test_merge_keeps_the_value_that_was_chosen(
    client: Client, build: Build, designer: Any, choice: str, gauge: str
) -> None:
    sent = opened(client, build.number, "circuit:101") | {"gauge": "12", "legend": "FRONT LAMP"}
    design_edits.edit_row(
        build=build, family="circuit", key="101", values={"gauge": "10"}, row_version=1, by=designer, at=AT
    )
    answer = client.post(f"/builds/{build.number}/rows/circuit/101/", sent, headers=HTMX)
    assert answer.status_code == 409

    sent |= {"row_version": "2", "was-gauge": "10", "merge-gauge": choice}
    response = client.post(f"/builds/{build.number}/rows/circuit/101/", sent, headers=HTMX)

    row = build.circuits.get(number="101")
    assert response.status_code == 200
    assert (row.gauge, row.legend) == (gauge, "FRONT LAMP")


def test_added_circuit_starts_with_the_next_free_place(client: Client, build: Build) -> None:
    page = client.get(f"/builds/{build.number}/", {"add": "circuit"}, headers=HTMX).content.decode()

    assert 'name="number" value="104"' in page
    assert 'name="position" value="4"' in page


def test_added_row_brings_the_table_with_it(client: Client, build: Build) -> None:
    seen = marks(client.get(f"/builds/{build.number}/").content.decode())
    sent = {
        "number": "104", "legend": "SPARE", "device_rating_a": "5", "gauge": "16", "colour": "BU", "length_m": "10",
        "panel": "P1", "position": "4", "device_family": "ATO", "return_node": "G1", "return_length_m": "1",
        "insulation_c": "125", "bundle": "1", "zones": "CAB", "seen": seen,
    }  # fmt: skip

    response = client.post(f"/builds/{build.number}/rows/circuit/", sent, headers=HTMX)

    text = response.content.decode()
    assert response.status_code == 200
    assert response["HX-Retarget"] == "#circuits-table"
    assert text.startswith('<div id="circuits-table"') and 'id="circuit-104"' in text
    assert 'id="new-circuit" hx-swap-oob="true"' in text
    assert build.circuits.get(number="104").length_m == Decimal("3.048")


@pytest.mark.parametrize(
    ("family", "sent", "words"),
    [
        ("circuit", {"number": "101"}, "is used already"),
        ("circuit", {"number": ""}, "This may not stay empty."),
        ("circuit", {"panel": ""}, "This may not stay empty."),
    ],
)
def test_added_row_that_cannot_be_taken_is_refused_at_its_field(
    client: Client, build: Build, family: str, sent: dict[str, str], words: str
) -> None:
    good = {
        "number": "104", "legend": "SPARE", "device_rating_a": "5", "gauge": "16", "length_m": "10", "panel": "P1",
        "position": "4", "device_family": "ATO", "return_node": "G1", "return_length_m": "1", "insulation_c": "125",
        "bundle": "1",
    }  # fmt: skip

    response = client.post(f"/builds/{build.number}/rows/{family}/", good | sent, headers=HTMX)

    assert response.status_code == 422
    assert words in response.content.decode()
    assert build.circuits.count() == 3


def test_load_is_added_to_its_circuit_which_stays_open(client: Client, build: Build) -> None:
    sent = {
        "key": "L900", "circuit": "101", "name": "Second lamp", "zone": "CAB", "current_a": "2", "quantity": "1",
        "duty_ratio": "100", "at_v": "12.8", "model": "constant_current", "continuous": "on", "can_be_steady": "on",
        "inrush_a": "0", "min_v": "0", "key_off_a": "0", "drop_class": "general",
    }  # fmt: skip

    response = client.post(f"/builds/{build.number}/rows/load/?circuit=101", sent, headers=HTMX)

    assert response.status_code == 200
    assert response["HX-Retarget"] == "#circuit-101"
    assert "Second lamp" in response.content.decode() and "data-edit" in response.content.decode()


def test_removed_row_is_gone_with_its_loads_and_undo_brings_both_back(client: Client, build: Build) -> None:
    sent = opened(client, build.number, "circuit:102")
    response = client.post(f"/builds/{build.number}/row-remove/circuit/102/", sent, headers=HTMX)
    assert response.status_code == 200
    assert not build.circuits.filter(number="102").exists() and not build.loads.filter(key="L102").exists()

    response = client.post(f"/builds/{build.number}/undo/", headers=HTMX)

    assert response.status_code == 200
    assert build.circuits.get(number="102").legend == "LAMP 2" and build.loads.get(key="L102")


def test_row_that_others_name_cannot_be_removed(client: Client, build: Build) -> None:
    sent = opened(client, build.number, "node:P1")

    response = client.post(f"/builds/{build.number}/row-remove/node/P1/", sent, headers=HTMX)

    assert response.status_code == 409
    assert response["HX-Retarget"] == "#messages"
    assert "is still named by" in response.content.decode()


def test_undo_on_a_sheet_that_is_behind_says_whose_edit_is_the_last(
    client: Client, build: Build, designer: Any
) -> None:
    post = f"/builds/{build.number}/undo/"
    client.post(
        f"/builds/{build.number}/rows/circuit/101/",
        opened(client, build.number, "circuit:101") | {"gauge": "12"}, headers=HTMX,
    )  # fmt: skip
    seen = EditBatch.objects.get().design_version
    writer = make_person(Role.DESIGNER)
    design_edits.edit_row(
        build=build, family="circuit", key="102", values={"legend": "X"}, row_version=1, by=writer, at=AT
    )

    refused = client.post(post, {"edit": str(seen)}, headers=HTMX)
    assert refused.status_code == 409 and str(writer) in refused.content.decode()
    assert build.circuits.get(number="102").legend == "X"

    page = client.get(f"/builds/{build.number}/history/").content.decode()
    assert f"Undo the last edit, by {writer}" in page and f'name="edit" value="{seen + 1}"' in page
    assert client.post(post, {"edit": str(seen + 1)}, headers=HTMX).status_code == 200
    assert build.circuits.get(number="102").legend != "X"


def test_undo_with_nothing_to_undo_says_so(client: Client, build: Build) -> None:
    response = client.post(f"/builds/{build.number}/undo/", headers=HTMX)

    assert response.status_code == 409
    assert "Nothing is left to undo." in response.content.decode()


def test_proposed_repair_is_made_with_one_press(client: Client, build: Build) -> None:
    Load.objects.filter(build=build, key="L101").update(drop_class="radoi")
    page = client.get(f"/builds/{build.number}/").content.decode()
    assert "Use the general class" in page

    sent = {"finding": "drop-class-without-rule", "subject": "load:L101"}
    response = client.post(f"/builds/{build.number}/fix/", sent, headers=HTMX)

    assert response.status_code == 200
    assert build.loads.get(key="L101").drop_class == "general"
    again = client.post(f"/builds/{build.number}/fix/", sent, headers=HTMX)
    assert again.status_code == 404 and "no longer open" in again.content.decode()


def test_without_script_a_row_opens_is_kept_and_put_back_on_plain_pages(client: Client, build: Build) -> None:
    page = client.get(f"/builds/{build.number}/", {"edit": "circuit:101"}).content.decode()
    assert 'action="/builds/' in page and 'form="edit-circuit-101"' in page and "<html" in page

    sent = opened(client, build.number, "circuit:101") | {"gauge": "12"}
    response = client.post(f"/builds/{build.number}/rows/circuit/101/", sent)
    assert response.status_code == 302
    assert response["Location"] == f"/builds/{build.number}/#circuit-101"

    wrong = client.post(f"/builds/{build.number}/rows/circuit/101/", sent | {"gauge": "99"})
    assert wrong.status_code == 422
    assert "<html" in wrong.content.decode() and "Choose one of the list" in wrong.content.decode()


def test_put_back_brings_the_row_as_it_is_kept(client: Client, build: Build) -> None:
    response = client.get(f"/builds/{build.number}/", {"row": "circuit:101"}, headers=HTMX)

    text = response.content.decode()
    assert text.startswith('<tbody id="circuit-101"') and "data-edit" not in text


@pytest.mark.parametrize(
    "path", ["rows/circuit/999/", "rows/nothing/1/", "row-preview/circuit/999/", "row-remove/run/R99/"]
)
def test_row_that_is_not_there_is_not_here(client: Client, build: Build, path: str) -> None:
    assert client.post(f"/builds/{build.number}/{path}", headers=HTMX).status_code == 404


def test_loads_on_in_a_condition_are_chosen_from_a_list(client: Client, build: Build) -> None:
    address = f"/builds/{build.number}/loads-on/idle/"
    assert client.get(address).content.decode().count(" checked") == 3

    response = client.post(address, {"on": ["L101", "L103"], "duty-L103": "40", "row_version": "1"})

    assert response.status_code == 302
    uses = build.conditions.get(key="idle").uses.order_by("line")
    assert [(use.load.key, use.duty_ratio) for use in uses] == [("L101", None), ("L103", Decimal("0.4000"))]


@pytest.mark.parametrize(
    ("sent", "words"),
    [({"duty-L101": "140"}, "Type at most 100 %."), ({"row_version": "9"}, "Someone changed this row")],
)
def test_loads_on_that_cannot_be_kept_change_nothing(
    client: Client, build: Build, sent: dict[str, str], words: str
) -> None:
    address = f"/builds/{build.number}/loads-on/idle/"

    response = client.post(address, {"on": ["L101"], "row_version": "1"} | sent)

    assert response.status_code == 422
    assert words in response.content.decode()
    assert build.conditions.get(key="idle").uses.count() == 3


def test_form_of_a_new_row_marks_what_may_stay_empty(client: Client, build: Build) -> None:
    page = client.get(f"/builds/{build.number}/", {"add": "node", "kind": "panel"}, headers=HTMX).content.decode()

    labels = dict(re.findall(r'<label for="id_(?:\w+-)?(\w+)">(.*?)</label>', page))

    assert "(may stay empty)" in labels["rating_a"]
    assert "(may stay empty)" not in labels["key"]


def test_new_battery_starts_with_usual_figures_said_to_be_from_memory(client: Client, build: Build) -> None:
    page = client.get(f"/builds/{build.number}/", {"add": "node", "kind": "battery"}, headers=HTMX).content.decode()

    for name, value in (("capacity_ah", "90"), ("rated_hours", "20"), ("usable_ratio", "50")):
        assert re.search(rf'name="battery__{name}"[^>]*value="{value}"', page)
    assert page.count("(from memory)") == 6
    assert "On its label (from memory)" in page


def test_an_alternators_curve_is_typed_read_back_and_undone(client: Client, build: Build, designer: Any) -> None:
    text = "1800 rpm 25 °C 95 A; 6000 rpm 25 °C 140 A"

    bad = keep(client, build.number, "node:ALT", alternator__points="1800 rpm fast")
    kept = keep(client, build.number, "node:ALT", alternator__points=text)

    assert bad.status_code == 422 and "“1800 rpm fast” cannot be read" in bad.content.decode()
    assert kept.status_code == 200
    points = next(node.alternator.points for node in design_of(build).nodes if node.alternator is not None)
    assert [(point.speed_rpm, point.ambient_c, point.output_a) for point in points] == [(1800, 25, 95), (6000, 25, 140)]
    assert opened(client, build.number, "node:ALT")["alternator__points"] == text
    design_edits.undo_last(build=build, by=designer, at=AT)
    assert all(node.alternator.points == () for node in design_of(build).nodes if node.alternator is not None)
