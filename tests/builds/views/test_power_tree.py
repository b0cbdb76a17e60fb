"""The power tree's page: each change one edit with undo, refusals at the field, previews that keep nothing."""

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from builds.engineering.document.canonical import canonical_text
from builds.models import Build, EditBatch, Role
from builds.selectors.engineering_inputs import design_of
from builds.services import design_edits
from tests.builds.views.sheets import HTMX
from tests.factories.builds import AT, make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db

NODE = {"kind": "bus", "node-key": "B1", "node-name": "Sub-bus", "node-zone": "CAB"}
RUN = {"run-key": "R9", "run-gauge": "2", "run-length_m": "3", "run-device_distance_m": "0"}


@pytest.fixture
def designer(client: Client) -> Any:
    make_shop()
    person = make_person(Role.DESIGNER)
    client.force_login(person)
    return person


@pytest.fixture
def build(designer: Any) -> Build:
    return make_designed_build(designer, circuits=3)


def ask(
    client: Client, build: Build, do: str, at: str, *, to: str = "change", side: str = "supply", **sent: str
) -> Any:
    body = {"do": do, "at": at, "side": side, "row_version": "1"} | sent
    return client.post(f"/builds/{build.number}/tree/{to}/", body, headers=HTMX)


def runs(build: Build) -> dict[str, tuple[str, str]]:
    return {run.key: (run.from_node.key, run.to_node.key) for run in build.runs.select_related("from_node", "to_node")}


CHANGES: list[tuple[str, str, str, dict[str, str]]] = [
    ("feed", "run:R2", "supply", {"source": "BAT1"}),
    ("split", "run:R2", "supply", NODE | {"at_m": "4", "run-key": "R9"}),
    ("add", "node:MD", "supply", NODE | RUN),
    ("add", "run:R3", "return", {"kind": "ground", "node-key": "G2", "node-name": "Stud", "node-zone": "CAB"} | RUN),
    ("join", "run:R1", "supply", {"to_node": "P1"} | RUN),
    ("take-out-run", "run:R0", "supply", {}),
    ("take-out", "run:R1", "supply", {"close_up": "on"}),
    ("move", "circuit:101", "supply", {"source": "P1", "position": "7"}),
    ("take-out-circuit", "circuit:102", "supply", {}),
]


@pytest.mark.parametrize(("do", "at", "side", "sent"), CHANGES, ids=[f"{case[0]} {case[2]}" for case in CHANGES])
def test_change_is_one_edit_that_undo_takes_back_to_the_byte(
    client: Client, build: Build, do: str, at: str, side: str, sent: dict[str, str]
) -> None:
    before = canonical_text(design_of(build))

    answer = ask(client, build, do, at, side=side, **sent)

    text = answer.content.decode()
    assert answer.status_code == 200, text
    assert 'id="tree-work"' in text and 'id="strip"' in text and answer["X-Design-Version"] == "2"
    assert EditBatch.objects.count() == 1
    assert canonical_text(design_of(build)) != before
    undone = client.post(f"/builds/{build.number}/tree/undo/", headers=HTMX)
    assert undone.status_code == 200 and "ndone" in undone.content.decode()
    assert canonical_text(design_of(build)) == before


def test_split_and_move_leave_what_was_asked_for(client: Client, build: Build) -> None:
    ask(client, build, "split", "run:R2", **NODE, **{"at_m": "4", "run-key": "R9"})
    ask(client, build, "move", "circuit:101", source="P1", position="7")

    assert runs(build)["R2"] == ("MD", "B1") and runs(build)["R9"] == ("B1", "P1")
    assert [f"{build.runs.get(key=key).length_m}" for key in ("R2", "R9")] == ["1.219", "1.281"]
    assert build.circuits.get(number="101").position == 7


@pytest.mark.parametrize(
    ("do", "at", "sent", "words"),
    [
        ("feed", "run:R1", {"source": "P1"}, "hangs below MD"),
        ("feed", "run:R2", {"source": "G1"}, "takes current back"),
        ("feed", "run:R2", {"source": ""}, "Choose one."),
        ("feed", "run:R2", {"source": "XX"}, "Choose one of the list."),
        ("split", "run:R2", NODE | {"at_m": "99", "run-key": "R9"}, "between its ends"),
        ("split", "run:R2", NODE | {"at_m": "4", "run-key": "R1"}, "used already"),
        ("split", "run:R2", NODE | {"at_m": "4", "run-key": "R9", "node-key": "P1"}, "used already"),
        ("add", "node:MD", NODE | RUN | {"run-length_m": "x"}, "Type a number"),
        ("add", "node:MD", NODE | RUN | {"node-name": ""}, "may not stay empty"),
        ("join", "node:MD", RUN | {"to_node": ""}, "Choose one."),
        ("take-out", "run:R2", {}, "holds circuits 101, 102, 103"),
        ("take-out", "run:R1", {}, "MD feeds P1"),
        ("move", "circuit:101", {"source": "P1", "position": "2"}, "Circuit 102 sits at P1-02 already"),
        ("move", "circuit:101", {"source": "P1", "position": "13"}, "7 positions"),
        ("feed", "run:R2", {"source": "BAT1", "row_version": "7"}, "Someone changed this row"),
    ],
)
def test_refusal_is_said_in_the_open_question_and_changes_nothing(
    client: Client, build: Build, do: str, at: str, sent: dict[str, str], words: str
) -> None:
    before = canonical_text(design_of(build))

    answer = ask(client, build, do, at, **sent)

    text = answer.content.decode()
    question = text[text.index(f'data-do="{do}" open') :].partition("</details>")[0]
    assert answer.status_code in (409, 422) and words in question
    assert canonical_text(design_of(build)) == before and not EditBatch.objects.exists()


def test_preview_says_what_would_move_and_keeps_nothing(client: Client, build: Build) -> None:
    fine = ask(client, build, "feed", "run:R2", to="preview", source="BAT1").content.decode()
    ring = ask(client, build, "feed", "run:R1", to="preview", source="P1").content.decode()

    assert "If you keep it" in fine and "finding" in fine
    assert "hangs below MD" in ring
    assert not EditBatch.objects.exists()


@pytest.mark.parametrize(("do", "at"), [("sing", "run:R2"), ("feed", "run:R99"), ("split", "circuit:101"), ("", "")])
def test_what_cannot_be_asked_is_not_here(client: Client, build: Build, do: str, at: str) -> None:
    assert ask(client, build, do, at).status_code == 404


def test_plain_form_goes_back_to_the_tree(client: Client, build: Build) -> None:
    body = {"do": "feed", "at": "run:R2", "side": "supply", "row_version": "1", "source": "BAT1"}

    answer = client.post(f"/builds/{build.number}/tree/change/", body)

    assert answer.status_code == 302 and "tree/?side=supply" in answer["Location"]


def test_tree_draws_every_run_once_on_its_side_and_a_second_feed_as_a_line_of_its_own(
    client: Client, build: Build, designer: Any
) -> None:
    design_edits.add_row(
        build=build, family="run", by=designer, at=AT,
        values={"key": "R9", "from_node": "BAT1", "to_node": "P1", "side": "supply", "gauge": "2", "length_m": 1},
    )  # fmt: skip

    page = client.get(f"/builds/{build.number}/tree/").content.decode()

    for key in ("R0", "R1", "R2", "R3", "R9"):
        assert page.count('class="tree-line') and page.count(f'data-subject="run:{key}" data-node=') == 1
    assert page.count("(stands above)") == 1
    assert page.count('data-subject="circuit:101" data-node=') == 1


def test_ring_that_nothing_reaches_is_still_drawn(client: Client, build: Build, designer: Any) -> None:
    for key in ("B1", "B2"):
        design_edits.add_row(
            build=build,
            family="node",
            values={"key": key, "kind": "bus", "name": key, "zone": "CAB"},
            by=designer,
            at=AT,
        )
    for key, start, end in (("R8", "B1", "B2"), ("R9", "B2", "B1")):
        design_edits.add_row(
            build=build, family="run", by=designer, at=AT,
            values={"key": key, "from_node": start, "to_node": end, "side": "supply", "gauge": "2", "length_m": 1},
        )  # fmt: skip

    page = client.get(f"/builds/{build.number}/tree/")

    assert page.status_code == 200 and 'data-subject="run:R8"' in page.content.decode()


def test_tree_asks_as_much_of_the_database_for_20_circuits_as_for_120(client: Client, designer: Any) -> None:
    counts = {}
    for circuits in (20, 120):
        build = make_designed_build(designer, circuits=circuits)
        with CaptureQueriesContext(connection) as asked:
            answer = ask(client, build, "feed", "run:R2", source="BAT1")
        assert answer.status_code == 200
        counts[circuits] = len(asked)

    assert counts[20] == counts[120]
