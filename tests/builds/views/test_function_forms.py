"""Fields of inputs, outputs, heads and claims: the same thing as the text, which stays as it was typed."""

import json
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.rewriting import as_typed, with_statement
from builds.forms.function_fields import names_in
from builds.forms.function_parts import ChannelForm, ClaimForm, HeadForm, InputForm
from builds.forms.functions import RuleForm
from builds.models import Build, Role
from builds.selectors.engineering_inputs import design_of
from builds.services.function_schedules import replace_schedule
from tests.engineering.functions.language_page import examples
from tests.factories.builds import AT, make_designed_build, make_person, make_shop

TEXTS = {one.name: one.text for one in examples()} | {
    path.stem: json.loads(path.read_text(encoding="utf-8"))["build"]["function_schedule"]
    for path in sorted((Path(__file__).parents[3] / "demo").glob("*.json"))
}
FORMS: dict[str, Any] = {
    "input": InputForm, "channel": ChannelForm, "head": HeadForm, "claim": ClaimForm, "rule": RuleForm,
}  # fmt: skip
TEXT = """# lamps
input mode: selector off, respond
input   brake: signal meaning brake;
  wire C3-11   # the stop switch
channel bar-red: lamp; facing front; colour red; load L101
channel scene: lamp; facing rear; colour white; load L102
rule go (priority 10): bar-red, scene steady when mode is respond; if lost, does not apply
rule cut (priority 90): bar-red inhibit when brake; if lost, applies
claim alone: never scene is lit and mode is off
""".replace("   # the stop switch", "")
CHANNEL = {"kind": "lamp", "side": "high", "facing": "front", "level": "none", "colour": "red", "job": "other"}


def sent_as(values: dict[str, Any]) -> dict[str, Any]:
    """What a browser sends of these fields: nothing for an unchecked box, text for the rest."""
    return {name: str(value) for name, value in values.items() if value not in (None, False)}


@pytest.mark.parametrize("name", TEXTS)
def test_a_form_kept_unchanged_leaves_its_statement_as_it_was_typed(name: str) -> None:
    text = TEXTS[name]
    schedule = parse_schedule(text)
    parts = [(family, part) for family in FORMS for part in getattr(schedule, f"{family}s")[:6]]
    assert len(parts) > 5

    for family, part in parts:
        form = FORMS[family](schedule, sent_as(FORMS[family].values_of(part)))
        assert form.is_valid(), (part, form.errors)
        subject, written = f"{family}:{part.key}", form.statement()

        assert with_statement(text, subject, as_typed(text, subject, written)) == text


def test_names_with_commas_in_them_are_one_name() -> None:
    (part,) = parse_schedule('input dimmer: dimmer "100 %", "40 %, dusk", off\n').inputs

    typed = InputForm.values_of(part)["positions"]

    assert typed == '100 %, "40 %, dusk", off'
    assert names_in(typed) == part.positions


@pytest.fixture
def build(client: Client, db: None) -> Build:
    make_shop()
    person = make_person(Role.DESIGNER)
    client.force_login(person)
    build = make_designed_build(person)
    replace_schedule(build=build, text=TEXT, row_version=0, by=person, at=AT)
    return build


def keep(client: Client, build: Build, subject: str, **fields: str) -> Any:
    return client.post(f"/builds/{build.number}/functions/statements/{subject}/", {"row_version": "1"} | fields)


def text_of(build: Build) -> str:
    return design_of(build).function_schedule


def test_an_input_is_edited_field_by_field_and_the_rest_stays_as_typed(client: Client, build: Build) -> None:
    answer = keep(
        client, build, "input:brake", key="brake", kind="signal", means="brake", source="wire", pin="C3-11", active="low",
        blinking="on", hold_ms="800",
    )  # fmt: skip

    assert answer.status_code == 302
    changed = "input brake: signal meaning brake; wire C3-11 active low blinking; held 800 ms\n"
    assert text_of(build) == TEXT.replace("input   brake: signal meaning brake;\n  wire C3-11\n", changed)


def test_an_output_a_head_and_a_claim_are_added_field_by_field(client: Client, build: Build) -> None:
    keep(client, build, "channel:new", key="bar blue", current_a="1.25", **CHANNEL | {"colour": "blue"})
    head = {"channels": "bar-red, bar-blue", "max_current_a": "2", "colours": "shared", "dims_by": "current"}
    keep(client, build, "head:new", key="bar", row_version="2", **head)
    claim = {
        "kind": "whenever",
        "condition": "brake",
        "then": "bar-red is off",
        "basis": "agreed",
        "defers_to": "the chief",
    }
    keep(client, build, "claim:new", key="stop", row_version="3", **claim)

    lines = text_of(build).splitlines()
    assert 'channel "bar blue": lamp; facing front; colour blue; 1.25 A' in lines
    assert "head bar: bar-red, bar-blue; at most 2 A; colours shared; dims by current" in lines
    assert 'claim stop: whenever brake then bar-red is off; because "agreed"; ask "the chief"' in lines
    assert [line for line in lines if line in TEXT.splitlines()] == TEXT.splitlines()


@pytest.mark.parametrize(
    ("subject", "fields", "expected"),
    [
        ("input:mode", {"key": "mode", "kind": "selector", "positions": "off"}, "expected two or more different names"),
        ("input:new", {"key": "x", "kind": "toggle", "rest": "up"}, "This is “up”; expected one of off, on"),
        ("input:new", {"key": "x", "kind": "signal", "source": "wire"}, "Write the pin."),
        ("input:new", {"key": 'x"y', "kind": "toggle"}, "Column 2: a quotation mark would end the text"),
        ("input:new", {"key": "brake", "kind": "toggle"}, "“brake” is the name of another input"),
        ("channel:new", CHANNEL | {"key": "x", "current_a": "-1"}, "This is “-1.0”; expected"),
        ("head:new", {"key": "h", "channels": "bar-rod", "colours": "first", "dims_by": "current"}, "No output is called “bar-rod”"),
        ("claim:new", {"key": "c", "kind": "never", "condition": "scene is lot"}, "Column 10:"),
        ("claim:new", {"key": "c", "kind": "whenever", "condition": "brake"}, "Say what then holds."),
    ],
)  # fmt: skip
def test_what_cannot_be_kept_is_said_at_its_field_and_nothing_is_kept(
    client: Client, build: Build, subject: str, fields: dict[str, str], expected: str
) -> None:
    answer = keep(client, build, subject, **fields)

    assert answer.status_code in (400, 422)
    assert expected in answer.content.decode()
    assert text_of(build) == TEXT


def test_a_renamed_output_that_a_rule_still_names_is_refused_where_the_rule_stands(
    client: Client, build: Build
) -> None:
    answer = keep(client, build, "channel:scene", key="work light", **CHANNEL)

    assert answer.status_code in (400, 422)
    assert "Line 7 of the schedule, column 33, rule go: Nothing here is called “scene”" in answer.content.decode()
    assert text_of(build) == TEXT


def test_every_statement_can_be_edited_as_its_line_too(client: Client, build: Build) -> None:
    url = f"/builds/{build.number}/functions/statements/input:mode/"

    fields, line = (client.get(url + query).content.decode() for query in ("", "?as=line"))
    client.post(url + "?as=line", {"row_version": "1", "statement": "input mode:  selector off, respond, block"})

    assert 'name="positions"' in fields and "As a line" in fields
    assert 'name="statement"' in line
    assert "input mode:  selector off, respond, block\n" in text_of(build)


def test_a_new_part_starts_from_what_the_text_leaves_unsaid(client: Client, build: Build) -> None:
    url = f"/builds/{build.number}/functions/statements/"

    output, head = (client.get(f"{url}{family}:new/").content.decode() for family in ("channel", "head"))

    assert output.count('<option value="none" selected>') == 3 and '<option value="other" selected>' in output
    assert '<option value="pulse-width" selected>' in head
