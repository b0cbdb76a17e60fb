"""The table of circuits, runs or loads: cells checked, kept as one edit or not at all, refused at the cell, undone."""

import json
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from builds.models import Build, EditBatch, Role
from builds.services import design_edits
from tests.factories.builds import AT, make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def designer(client: Client) -> Any:
    make_shop()
    person = make_person(Role.DESIGNER)
    client.force_login(person)
    return person


@pytest.fixture
def build(designer: Any) -> Build:
    return make_designed_build(designer, circuits=4)


def send(client: Client, build: Build, do: str, *cells: tuple[str, str, str], family: str = "circuit") -> Any:
    rows = getattr(build, f"{family}s")
    versions = dict(rows.values_list("number" if family == "circuit" else "key", "row_version"))
    return client.post(
        f"/builds/{build.number}/table/{family}/cells/",
        {"do": do, "cells": json.dumps(cells), "versions": json.dumps(versions)},
    )


def test_page_shows_every_row_in_the_builds_units(client: Client, build: Build) -> None:
    page = client.get(f"/builds/{build.number}/table/circuit/").content.decode()

    assert page.count("<tr data-key=") == 4
    assert "Length, ft" in page and '<td class="num">9.84</td>' in page  # 3 m


def test_cells_are_kept_as_one_edit_and_answered_with_the_rows_as_they_are(client: Client, build: Build) -> None:
    answer = send(client, build, "keep", ("101", "gauge", "12"), ("102", "length_m", "30"), ("102", "colour", "RD"))

    assert answer.status_code == 200
    assert build.circuits.get(number="101").gauge == "12"
    row = build.circuits.get(number="102")
    assert (f"{row.length_m}", row.colour) == ("9.144", "RD")
    assert EditBatch.objects.count() == 1
    assert answer.json()["rows"]["101"][0] == 2 and "12" in answer.json()["rows"]["101"][1]
    assert 'id="strip"' in answer.json()["strip"]


def test_check_says_what_would_change_and_keeps_nothing(client: Client, build: Build) -> None:
    answer = send(client, build, "check", ("101", "length_m", "90"))

    assert any("Worst drop" in words for words in answer.json()["says"])
    assert not EditBatch.objects.exists()


@pytest.mark.parametrize("do", ["check", "keep"])
def test_every_fault_is_said_at_its_cell_and_nothing_is_kept(client: Client, build: Build, do: str) -> None:
    answer = send(
        client, build, do, ("101", "gauge", "12"), ("102", "gauge", "99"), ("103", "length_m", "12,5"),
        ("104", "panel", "P9"), ("999", "gauge", "12"), ("101", "taste", "sweet"),
    )  # fmt: skip

    assert {tuple(cell[:2]) for cell in answer.json()["faults"]} == {
        ("102", "gauge"), ("103", "length_m"), ("104", "panel"), ("999", "gauge"), ("101", "taste"),
    }  # fmt: skip
    assert answer.status_code == (422 if do == "keep" else 200)
    assert not EditBatch.objects.exists()


@pytest.mark.parametrize("do", ["check", "keep"])
def test_name_that_is_not_in_the_build_is_said_at_its_cell(client: Client, build: Build, do: str) -> None:
    answer = send(client, build, do, ("101", "gauge", "12"), ("102", "zones", "CAB, MOON"))

    [[key, field, words]] = answer.json()["faults"]
    assert (key, field) == ("102", "zones") and "MOON" in words
    assert not EditBatch.objects.exists()


def test_figure_left_as_it_was_shown_keeps_its_exact_value(client: Client, build: Build) -> None:
    build.circuits.filter(number="101").update(length_m="3.658", row_version=2)

    answer = send(client, build, "keep", ("101", "length_m", "12"), ("102", "length_m", "9.84"), ("101", "gauge", "12"))

    assert answer.status_code == 200
    assert f"{build.circuits.get(number='101').length_m}" == "3.658"
    assert build.circuits.get(number="102").row_version == 1


def test_a_figure_copied_with_the_unit_of_its_column_is_read(client: Client, build: Build) -> None:
    answer = send(
        client, build, "keep", ("101", "device_rating_a", "10 A"), ("102", "device_rating_a", "15A"), ("101", "gauge", "12 gauge"),
        ("102", "gauge", "10 SAE"), ("101", "length_m", "30 ft"), ("102", "insulation_c", "105 °C"),
    )  # fmt: skip

    assert answer.status_code == 200, answer.json()
    rows = {row.number: row for row in build.circuits.all()}
    assert (rows["101"].device_rating_a, rows["102"].device_rating_a) == (10, 15)
    assert (rows["101"].gauge, rows["102"].gauge, f"{rows['101'].length_m}") == ("12", "10", "9.144")
    assert rows["102"].insulation_c == 105


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("device_rating_a", "10 mA", "This column is in A, not in mA"),
        ("device_rating_a", "10 V", "This column is in A, not in V"),
        ("length_m", "4.5 m", "This column is in ft, not in m"),
        ("gauge", "12 AWG", "This column is in gauge, not in AWG"),
        ("gauge", "4 mm²", "This column is in gauge, not in mm²"),
        ("bundle", "3 A", "Type 3 alone"),
    ],
)
def test_another_unit_than_the_columns_is_refused_in_words(
    client: Client, build: Build, field: str, text: str, words: str
) -> None:
    answer = send(client, build, "keep", ("101", field, text))

    [[_, at, said]] = answer.json()["faults"]
    assert at == field and words in said
    assert answer.status_code == 422
    assert not EditBatch.objects.exists()


def test_words_and_flags_are_read_as_people_write_them(client: Client, build: Build) -> None:
    answer = send(
        client, build, "keep", ("L101", "model", "Constant Power"), ("L101", "can_be_steady", "No"),
        ("L102", "continuous", "x"), ("L101", "duty_ratio", "50"), family="load",
    )  # fmt: skip

    assert answer.status_code == 200, answer.json()
    row = build.loads.get(key="L101")
    assert (row.model, row.can_be_steady, f"{row.duty_ratio}") == ("constant_power", False, "0.5000")


def test_row_changed_by_someone_else_is_said_and_can_be_kept_over(client: Client, build: Build, designer: Any) -> None:
    design_edits.edit_row(
        build=build, family="circuit", key="101", values={"gauge": "10"}, row_version=1, by=designer, at=AT
    )
    body = {"do": "keep", "cells": json.dumps([["101", "gauge", "12"], ["102", "gauge", "12"]])}
    address = f"/builds/{build.number}/table/circuit/cells/"

    first = client.post(address, body | {"versions": json.dumps({"101": 1, "102": 1})})
    second = client.post(address, body | {"versions": json.dumps({"101": 1, "102": 1} | first.json()["versions"])})

    assert first.status_code == 409 and "here is 10 now" in first.json()["faults"][0][2]
    assert second.status_code == 200 and build.circuits.get(number="101").gauge == "12"


def test_cells_laid_over_anothers_change_of_their_row_say_what_that_was(client: Client, build: Build) -> None:
    other = make_person(Role.DESIGNER)
    design_edits.edit_row(
        build=build, family="circuit", key="101", values={"gauge": "10"}, row_version=1, by=other, at=AT
    )

    answer = client.post(
        f"/builds/{build.number}/table/circuit/cells/",
        {"do": "keep", "cells": json.dumps([["101", "bundle", "4"]]), "versions": json.dumps({"101": 1})},
    )

    assert answer.json()["merged"] == [f"Circuit 101: {other} changed Gauge from 16 to 10"]
    assert build.circuits.get(number="101").gauge == "10"


def test_undo_brings_the_rows_back(client: Client, build: Build) -> None:
    send(client, build, "keep", *((number, "gauge", "10") for number in ("101", "102", "103")))

    answer = send(client, build, "undo")

    assert answer.status_code == 200 and "16" in answer.json()["rows"]["103"][1]
    assert set(build.circuits.values_list("gauge", flat=True)) == {"16"}


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"do": "sing"}, "check, keep or undo"),
        ({"do": "keep", "cells": "["}, "could not be read"),
        ({"do": "keep", "cells": '{"101": 1}'}, "could not be read"),
        ({"do": "keep", "cells": '[["101", "gauge"]]'}, "could not be read"),
        ({"do": "keep", "cells": '[["101", "gauge", 12]]'}, "could not be read"),
        ({"do": "keep", "cells": '[["101", "gauge", "12"]]', "versions": "7"}, "versions of the rows"),
        ({"do": "keep", "cells": "[" * 100_000}, "could not be read"),
    ],
)
def test_cells_sent_badly_are_refused_in_words(client: Client, build: Build, sent: dict[str, str], words: str) -> None:
    answer = client.post(f"/builds/{build.number}/table/circuit/cells/", sent)

    assert answer.status_code == 422 and words in answer.content.decode()
    assert not EditBatch.objects.exists()


@pytest.mark.parametrize("do", ["", "keep"])
def test_table_asks_as_much_of_the_database_for_20_circuits_as_for_120(client: Client, designer: Any, do: str) -> None:
    counts = {}
    for circuits in (20, 120):
        build = make_designed_build(designer, circuits=circuits)
        cells = [(number, "bundle", "3") for number in build.circuits.values_list("number", flat=True)]
        with CaptureQueriesContext(connection) as asked:
            answer = send(client, build, do, *cells) if do else client.get(f"/builds/{build.number}/table/circuit/")
        assert answer.status_code == 200
        counts[circuits] = len(asked)

    assert counts[20] == counts[120]


HEAD = ("legend", "device_rating_a", "gauge", "colour", "length_m")


def new_rows(count: int, **other: str) -> list[tuple[str, str, str]]:
    """Cells of so many new circuits as a spreadsheet would have them."""
    lines = [(f"LAMP {place}", "10", "14", "WH", "12") for place in range(1, count + 1)]
    return [
        (f"+{place}", field, other.get(field, text))
        for place, line in enumerate(lines, start=1)
        for field, text in zip(HEAD, line, strict=True)
    ]


def test_rows_below_the_last_are_made_numbered_and_undone_as_one_edit(client: Client, build: Build) -> None:
    answer = send(client, build, "keep", *new_rows(3), ("101", "gauge", "12"))

    assert answer.status_code == 200
    made = list(build.circuits.order_by("line").values_list("number", "legend", "position", "length_m"))[4:]
    assert [row[:3] for row in made] == [("105", "LAMP 1", 5), ("106", "LAMP 2", 6), ("107", "LAMP 3", 7)]
    assert f"{made[0][3]}" == "3.658"  # 12 ft
    assert "107" in answer.json()["rows"] and answer.json()["rows"]["101"][0] == 2
    assert EditBatch.objects.get().words == "1 circuits of the table, 3 circuits added"

    send(client, build, "undo")

    assert list(build.circuits.order_by("line").values_list("number", flat=True)) == ["101", "102", "103", "104"]
    assert build.circuits.get(number="101").gauge == "16"


def test_check_shows_the_new_rows_as_they_would_be_and_makes_none(client: Client, build: Build) -> None:
    answer = send(client, build, "check", *new_rows(2), ("+2", "number", "900")).json()

    number, texts = answer["made"]["+1"]
    assert number == "105" and texts[:7] == ["LAMP 1", "10", "14", "WH", "12", "P1", "5"]
    assert answer["made"]["+2"][0] == "900"
    assert build.circuits.count() == 4 and not EditBatch.objects.exists()


@pytest.mark.parametrize("do", ["check", "keep"])
@pytest.mark.parametrize(
    ("cell", "words"),
    [
        (("+2", "gauge", "99"), "Choose one of the list"),
        (("+2", "panel", "P9"), "P9"),
        (("+2", "number", "101"), "used already"),
        (("+2", "length_m", "12 m"), "This column is in ft, not in m"),
        (("+2", "nothing", "x"), "There is no such column"),
    ],
)
def test_one_bad_cell_of_a_new_row_is_said_there_and_no_row_is_made(
    client: Client, build: Build, do: str, cell: tuple[str, str, str], words: str
) -> None:
    answer = send(client, build, do, *new_rows(3), cell)

    assert answer.status_code == (422 if do == "keep" else 200)
    ((key, field, said),) = answer.json()["faults"]
    assert (key, field) == cell[:2] and words in said
    assert build.circuits.count() == 4 and not EditBatch.objects.exists()


def test_a_new_row_without_what_it_needs_is_told_so_at_the_empty_cell(client: Client, build: Build) -> None:
    answer = send(client, build, "keep", ("+1", "legend", "LAMP"))

    faults = {(key, field) for key, field, _ in answer.json()["faults"]}
    assert answer.status_code == 422
    assert {("+1", "gauge"), ("+1", "device_rating_a"), ("+1", "length_m")} <= faults


def test_two_new_rows_of_one_number_are_refused_at_the_second(client: Client, build: Build) -> None:
    answer = send(client, build, "keep", *new_rows(2), ("+1", "number", "200"), ("+2", "number", "200"))

    assert answer.json()["faults"] == [["+2", "number", '"200" is used already.']]


def test_a_run_and_a_load_are_made_from_pasted_cells(client: Client, build: Build) -> None:
    cells = [("from_node", "MD"), ("to_node", "P1"), ("gauge", "4"), ("length_m", "6")]
    run = send(client, build, "keep", *(("+1", field, text) for field, text in cells), family="run")
    cells = [("circuit", "101"), ("name", "Second lamp"), ("current_a", "1.5")]
    load = send(client, build, "keep", *(("+1", field, text) for field, text in cells), family="load")

    assert (run.status_code, load.status_code) == (200, 200), (run.content, load.content)
    assert build.runs.order_by("-line")[0].side == "supply"
    assert build.loads.get(name="Second lamp").circuit.number == "101"


def test_as_much_is_asked_of_the_database_for_20_new_circuits_as_for_200(client: Client, build: Build) -> None:
    counts = {}
    for rows in (20, 200):
        for do in ("keep", "undo"):
            with CaptureQueriesContext(connection) as asked:
                answer = send(client, build, do, *(new_rows(rows) if do == "keep" else ()))
            assert answer.status_code == 200
            counts[rows, do] = len(asked)

    assert counts[20, "keep"] == counts[200, "keep"]
    assert counts[200, "undo"] <= counts[20, "undo"] + 2  # the ORM deletes a hundred rows a statement
