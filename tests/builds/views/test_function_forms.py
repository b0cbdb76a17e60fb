"""Fields of inputs, outputs, heads and claims: the same thing as the text, which stays as it was typed."""

import json
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

import pytest
from django.test import Client
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.patterns import FlashPattern, FlashStep, flash_limit_names
from builds.engineering.functions.printing import print_schedule
from builds.engineering.functions.rewriting import as_typed, with_statement
from builds.engineering.functions.schedule import ChannelSet, Given
from builds.forms.function_fields import names_in
from builds.forms.function_groups import GivenForm, SetForm
from builds.forms.function_parts import ChannelForm, ClaimForm, HeadForm, InputForm
from builds.forms.function_patterns import PatternForm, changed_rows
from builds.forms.functions import RuleForm
from builds.models import Build, EditBatch, Role
from builds.selectors.engineering_inputs import design_of
from builds.services.design_edits import undo_last
from builds.services.function_schedules import replace_schedule
from tests.engineering.functions.language_page import examples
from tests.engineering.functions.random_schedules import random_condition, random_schedule
from tests.factories.builds import AT, make_designed_build, make_person, make_shop

TEXTS = {one.name: one.text for one in examples()} | {
    path.stem: json.loads(path.read_text(encoding="utf-8"))["build"]["function_schedule"]
    for path in sorted((Path(__file__).parents[3] / "demo").glob("*.json"))
}
FORMS: dict[str, Any] = {
    "input": InputForm, "channel": ChannelForm, "head": HeadForm, "claim": ClaimForm, "rule": RuleForm,
    "pattern": PatternForm, "set": SetForm, "given": GivenForm,
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
    sent = {
        name: value if name == "channels" else str(value)
        for name, value in values.items()
        if value not in (None, False)
    }
    for number, row in enumerate(values.get("steps", ())):
        sent |= {f"step-{number}-{name}": typed for name, typed in row.items()}
    return {name: value for name, value in sent.items() if name != "steps"}


@pytest.mark.parametrize("name", TEXTS)
def test_a_form_kept_unchanged_leaves_its_statement_as_it_was_typed(name: str) -> None:
    text = TEXTS[name]
    schedule = parse_schedule(text)
    parts = [(family, part) for family in FORMS for part in getattr(schedule, f"{family}s")[:6]]
    assert len(parts) > 5

    for family, part in parts:
        values = FORMS[family].values_of(part)
        form = FORMS[family](schedule, sent_as(values), initial=values)
        assert form.is_valid(), (part, form.errors)
        subject, written = f"{family}:{part.key}", form.statement()

        assert with_statement(text, subject, as_typed(text, subject, written)) == text


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32), steps=st.lists(st.tuples(st.integers(1, 10_000), st.integers(0, 100)), max_size=9))
def test_text_and_form_of_schedules_made_at_random_are_one_text(seed: int, steps: list[tuple[int, int]]) -> None:
    random = Random(seed)
    made = random_schedule(random, inputs=4, timers=True)
    keys = [channel.key for channel in made.channels]
    lengths = [*steps, (random.randrange(1, 10_001), 100), (random.randrange(1, 10_001), 0)]
    made = replace(
        made,
        sets=(*made.sets, ChannelSet(key="picked out", channels=tuple(random.sample(keys, random.randrange(1, 6))))),
        patterns=(
            *made.patterns,
            FlashPattern(
                key="made",
                steps=tuple(FlashStep(duration_ms=ms, level_percent=level) for ms, level in lengths),
                limit=random.choice(("", *flash_limit_names())),
            ),
        ),
        givens=(*made.givens, Given(key="said", condition=random_condition(random, made.inputs, 3), basis="the guide")),
    )
    text = print_schedule(made)
    schedule = parse_schedule(text)

    kept = text
    for family in ("pattern", "set", "given"):
        for part in getattr(schedule, f"{family}s"):
            form = FORMS[family](
                schedule, sent_as(FORMS[family].values_of(part)), initial=FORMS[family].values_of(part)
            )
            assert form.is_valid(), (part, form.errors)
            kept = with_statement(kept, f"{family}:{part.key}", form.statement())

    assert kept == text


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


def steps(*rows: tuple[str, str, str]) -> dict[str, str]:
    names = ("duration_ms", "shows", "level_percent")
    return {f"step-{at}-{name}": value for at, row in enumerate(rows) for name, value in zip(names, row, strict=True)}


BEAT = steps(("250", "on", ""), ("100", "dim", "40"), ("400", "off", ""))


def test_a_pattern_a_set_and_a_given_are_added_field_by_field(client: Client, build: Build) -> None:
    keep(client, build, "pattern:new", key="beat", limit="sae-j845", **BEAT)
    url = f"/builds/{build.number}/functions/statements/set:new/"
    client.post(url, {"row_version": "2", "key": "all lamps", "channels": ["scene", "bar-red"]})
    keep(
        client,
        build,
        "given:new",
        row_version="3",
        key="stopped",
        condition="not (brake and mode is off)",
        basis="guide",
    )

    lines = text_of(build).splitlines()
    assert "pattern beat: 250 ms on, 100 ms at 40 %, 400 ms off; limit sae-j845" in lines
    assert 'set "all lamps": scene, bar-red' in lines
    assert 'given stopped: not (brake and mode is off); because "guide"' in lines
    assert [line for line in lines if line in TEXT.splitlines()] == TEXT.splitlines()


@pytest.mark.parametrize(
    ("subject", "fields", "expected", "at"),
    [
        ("pattern:new", {"key": "p"} | steps(("0", "on", ""), ("5", "off", "")), "expected a whole number from 1 to 10,000", "id_step-0-duration_ms_error"),
        ("pattern:new", {"key": "p"} | steps(("5", "dim", ""), ("5", "off", "")), "Say to how many percent", "id_step-0-level_percent_error"),
        ("pattern:new", {"key": "p"} | steps(("5", "on", ""), ("5", "on", "")), "This is “never dark”; expected at least one lit and one dark step", "id_steps_error"),
        ("pattern:new", {"key": "p"} | steps(("5", "on", "")), "This is “1”; expected a whole number from 2 to 64", "id_steps_error"),
        ("pattern:new", {"key": "p", "limit": "none"} | BEAT, "Select a valid choice", "id_limit_error"),
        ("set:new", {"key": "s"}, "No output is picked; expected one or more", "id_channels_error"),
        ("set:new", {"key": "s", "channels": "bar-rod"}, "No output is called “bar-rod”; expected some of those listed", "id_channels_error"),
        ("set:new", {"key": "brake", "channels": "scene"}, "“brake” is the name of another", "id_key_error"),
        ("given:new", {"key": "g", "condition": "brake and mode is chase"}, "Column 19: “mode” is never “chase”; expected", "id_condition_error"),
        ("given:new", {"key": "g", "condition": "scene is lit"}, "Column 1:", "id_condition_error"),
        ("given:new", {"key": "g", "condition": "brake", "basis": 'the "guide"'}, "Column 5: a quotation mark", "id_basis_error"),
    ],
)  # fmt: skip
def test_what_a_pattern_a_set_or_a_given_cannot_be_is_said_at_its_field(
    client: Client, build: Build, subject: str, fields: dict[str, str], expected: str, at: str
) -> None:
    answer = keep(client, build, subject, **fields)

    assert answer.status_code in (400, 422)
    markup = answer.content.decode()
    assert expected in markup[markup.index(f'<div id="{at}"') :].partition("</div>")[0]
    assert text_of(build) == TEXT


def test_a_pattern_kept_from_an_old_page_is_refused_and_undo_puts_the_kept_one_back(
    client: Client, build: Build
) -> None:
    keep(client, build, "pattern:new", key="beat", **BEAT)
    before = text_of(build)
    keep(client, build, "pattern:beat", row_version="2", key="beat", **BEAT | {"step-0-duration_ms": "300"})

    stale = keep(client, build, "pattern:beat", row_version="2", key="beat", **BEAT | {"step-0-duration_ms": "350"})

    assert stale.status_code == 409
    markup = stale.content.decode()
    assert "Someone changed the function schedule while you had it open." in markup and 'value="350"' in markup
    assert "pattern beat: 300 ms on" in text_of(build)
    undo_last(build=build, by=EditBatch.objects.latest("pk").by, at=AT)
    assert text_of(build) == before


def test_steps_are_changed_and_their_figures_shown_without_anything_being_kept(client: Client, build: Build) -> None:
    quick = steps(("50", "on", ""), ("50", "off", ""), ("50", "on", ""), ("50", "off", ""))

    figures, added, moved, unread = (
        keep(client, build, "pattern:new", key="p", limit="sae-j845", rows=rows, **sent).content.decode()
        for rows, sent in (("figures", BEAT), ("add", quick), ("down-1", BEAT), ("figures", steps(("x", "on", ""))))
    )

    assert "80 a minute" in figures and "Within" in figures and "<form" not in figures
    assert 'id="id_step-4-duration_ms"' in added and "Step 5 is added." in added
    assert moved.index('value="400"') < moved.index('value="100"') and "Step 2 is now step 3." in moved
    assert "No figures yet" in unread
    assert text_of(build) == TEXT


def test_a_pattern_outside_the_rates_asked_of_it_says_so_with_where_they_are_from(client: Client, build: Build) -> None:
    # 100 ms lit in 200 ms is 300 flashes a minute by hand; SAE J845's abstract allows 240
    fast = steps(("50", "on", ""), ("150", "off", ""))

    markup = keep(client, build, "pattern:new", key="p", limit="sae-j845", rows="figures", **fast).content.decode()

    assert "300 a minute" in markup and "flash-rate" in markup and "SAE J845 2013 abstract" in markup
    assert "Within" not in markup


def test_rows_move_to_the_ends_and_no_further() -> None:
    rows = [{"duration_ms": one, "shows": "on", "level_percent": ""} for one in "abc"]

    def order(change: str) -> tuple[str, str]:
        changed, focus, _ = changed_rows(rows, change)
        return "".join(row["duration_ms"] for row in changed), focus

    assert order("up-1") == ("bac", "down-0")
    assert order("down-1") == ("acb", "up-2")
    assert order("up-0") == order("down-2") == order("remove-9") == order("up-x") == ("abc", "")
    assert order("remove-2") == ("ab", "add")
