"""What if: the difference shown with nothing changed, words where something cannot be assumed, kept as one edit."""

import re
from typing import Any

import pytest
from django.test import Client

from builds.engineering.assess import assess
from builds.engineering.document.canonical import canonical_text
from builds.models import Build, EditBatch, Role
from builds.selectors.engineering_inputs import design_of
from builds.services import design_edits
from tests.builds.views.sheets import HTMX
from tests.engineering.assess.designs import changed
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


def own_figures(page: str, part: str) -> dict[str, tuple[str, str]]:
    """The part's own figures by their label: now and as they would be, "stays" where they stay."""
    section = next(piece for piece in page.split("<section") if f">{part}</h2>" in piece)
    cells = re.findall(r'<th scope="row">(.*?)</th><td class="num">(.*?)</td><td class="num">(.*?)</td>', section)
    plain = [[re.sub("<[^>]*>", "", cell) for cell in row] for row in cells]
    return {label: (now, would) for label, now, would in plain}


def test_a_changed_circuits_own_figures_are_shown_whichever_circuit_is_the_worst(client: Client, build: Build) -> None:
    circuit, *_ = assess(design_of(build)).circuits
    page = look(client, build, f"circuit:{circuit.number} gauge 10").content.decode()
    legend = next(item.legend for item in design_of(build).circuits if item.number == circuit.number)
    own = own_figures(page, f"Circuit {circuit.number} {legend}")

    after = assess(changed(design_of(build), "circuit", circuit.number, gauge="10")).circuits[0]
    drop, carries, far = own["Drop"], own["Its wire carries"], own["Short at its far end"]
    assert drop[0].startswith(f"{100 * circuit.drop_ratio:.1f} %") and drop[1].startswith(
        f"{100 * after.drop_ratio:.1f} %"
    )
    assert carries == (f"{circuit.ampacity_a:.1f} A", f"{after.ampacity_a:.1f} A")
    assert far == (f"{circuit.far_end_fault_a:,.0f} A", f"{after.far_end_fault_a:,.0f} A")
    assert own["Fuse or breaker"][1] == "stays" and "Wire over device" in own and "Left over its load" in own


@pytest.mark.parametrize(
    ("assumed", "part", "moves"),
    [
        ("run:R2 length 30", "Run R2", {"Drop"}),
        ("load:L101 count 9", "Circuit 101", {"Continuous", "Left over its load"}),
        ("node:ALT alternator 60", "ALT", {"Left in "}),
    ],
)
def test_own_figures_of_runs_loads_and_the_alternator_move(
    client: Client, build: Build, assumed: str, part: str, moves: set[str]
) -> None:
    page = look(client, build, assumed).content.decode()
    head = re.search(rf">({part}[^<]*)</h2>", page)
    assert head is not None

    own = own_figures(page, head.group(1))
    for label in moves:
        assert any(name.startswith(label) and would != "stays" for name, (_, would) in own.items()), label


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
