"""What if: the difference shown with nothing changed, words where something cannot be assumed, kept as one edit."""

from typing import Any

import pytest
from django.test import Client

from builds.engineering.document.canonical import canonical_text
from builds.models import Build, EditBatch, Role
from builds.selectors.engineering_inputs import design_of
from builds.services import design_edits
from tests.builds.views.sheets import HTMX
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
    return make_designed_build(designer, circuits=3)


def look(client: Client, build: Build, *assumed: str, **more: str) -> Any:
    return client.get(f"/builds/{build.number}/what-if/", {"if": list(assumed)} | more)


@pytest.mark.parametrize(
    ("assumed", "said", "figure"),
    [
        ("circuit:101 gauge 18", "circuit 101: gauge 16 → 18", "Worst drop"),
        ("circuit:102 length 90", "circuit 102: length 9.84 → 90 ft", "Worst drop"),
        ("run:R2 gauge 8", "run R2: gauge 2 → 8", "Worst drop"),
        ("load:L101 count 9", "load L101: lamp count 1 → 9", "Load, "),
        ("node:ALT alternator 60", "ALT: rated output 120 → 60 A", "Load, "),
    ],
)
def test_difference_is_shown_and_nothing_is_changed(
    client: Client, build: Build, assumed: str, said: str, figure: str
) -> None:
    before = canonical_text(design_of(build))

    page = look(client, build, assumed).content.decode()

    moved = page[page.index("if-strip") :]
    assert said in page
    assert any(figure in piece.partition("</div></div>")[0] for piece in moved.split("if-moved")[1:])
    assert canonical_text(design_of(build)) == before and not EditBatch.objects.exists()


def test_findings_that_would_come_and_go_are_told_apart(client: Client, build: Build, designer: Any) -> None:
    worse = look(client, build, "circuit:101 length 300").content.decode()
    design_edits.edit_row(
        build=build, family="circuit", key="101", values={"length_m": 90}, row_version=1, by=designer, at=AT
    )
    better = look(client, build, "circuit:101 length 9.84").content.decode()

    assert "<h3>New</h3>" in worse and "101" in worse.partition("<h3>New</h3>")[2]
    assert "<h3>Gone</h3>" in better and "<h3>New</h3>" not in better


@pytest.mark.parametrize(
    ("what", "becomes_field", "becomes", "words"),
    [
        ("999", "gauge", "12", "This build has no 999."),
        ("", "gauge", "12", "Name a circuit"),
        ("101", "gauge", "99", "Choose one of the list"),
        ("101", "gauge", "16", "It is 16 already."),
        ("101", "length", "12,5", "Write the number with a point"),
        ("101", "length", "", "Say what it becomes."),
        ("R2", "count", "4", "R2 has no lamp count."),
        ("BAT1", "alternator", "100", "BAT1 has no rated output."),
        ("L101", "count", "0", "Type at least 1."),
        ("101", "colour", "RD", "colour"),
    ],
)
def test_what_cannot_be_assumed_is_said_at_its_field(
    client: Client, build: Build, what: str, becomes_field: str, becomes: str, words: str
) -> None:
    answer = look(client, build, what=what, figure=becomes_field, becomes=becomes)

    assert answer.status_code == 200 and words in answer.content.decode()


def test_lamps_of_a_circuit_are_those_of_its_only_load(client: Client, build: Build) -> None:
    answer = client.get(
        f"/builds/{build.number}/what-if/", {"what": "101", "figure": "count", "becomes": "5"}, headers=HTMX
    )

    assert "load L101: lamp count 1 → 5" in answer.content.decode()
    assert answer["HX-Push-Url"] == f"/builds/{build.number}/what-if/?if=load%3AL101+count+5"


def test_later_assumption_about_one_figure_stands_for_the_earlier(client: Client, build: Build) -> None:
    page = look(client, build, "circuit:101 gauge 14", "circuit:101 gauge 12").content.decode()

    assert page.count("circuit 101: gauge") == 2 and "gauge 16 → 12" in page  # the line and its button


def test_assumption_that_no_longer_fits_is_left_out_in_words(client: Client, build: Build) -> None:
    page = look(client, build, "circuit:777 gauge 12", "nonsense", "circuit:101 gauge 12").content.decode()

    assert page.count("is left out") == 2 and "circuit 101: gauge 16 → 12" in page


def keep(client: Client, build: Build, *assumed: str, **versions: int) -> Any:
    sent = {f"version-{subject.replace('_', ':')}": version for subject, version in versions.items()}
    return client.post(f"/builds/{build.number}/what-if/keep/", {"if": list(assumed)} | sent)


def test_kept_assumptions_are_one_edit_that_undo_takes_back(client: Client, build: Build, designer: Any) -> None:
    before = canonical_text(design_of(build))

    answer = keep(
        client,
        build,
        "circuit:101 gauge 12",
        "circuit:101 length 30",
        "node:ALT alternator 220",
        circuit_101=1,
        node_ALT=1,
    )

    row = build.circuits.get(number="101")
    assert answer.status_code == 302
    assert (row.gauge, f"{row.length_m}") == ("12", "9.144")
    assert f"{build.nodes.get(key='ALT').alternator_rated_a}" == "220.000"
    assert EditBatch.objects.count() == 1
    design_edits.undo_last(build=build, by=designer, at=AT)
    assert canonical_text(design_of(build)) == before


def test_keeping_over_someone_elses_change_is_refused_and_shows_the_build_as_it_is(
    client: Client, build: Build, designer: Any
) -> None:
    design_edits.edit_row(
        build=build, family="circuit", key="101", values={"gauge": "10"}, row_version=1, by=designer, at=AT
    )

    answer = keep(client, build, "circuit:101 gauge 12", circuit_101=1)

    assert answer.status_code == 409 and "Someone changed this row" in answer.content.decode()
    assert build.circuits.get(number="101").gauge == "10"


def test_nothing_assumed_is_nothing_to_keep(client: Client, build: Build) -> None:
    assert keep(client, build).status_code == 404
    assert keep(client, build, "circuit:777 gauge 12").status_code == 404
