"""The pages of a function schedule: picture and controls, text and form, claims, comparison, loaded files, the live strip."""

import re
from dataclasses import replace
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from builds.engineering.functions.faults import LanguageError
from builds.engineering.functions.language import parse_schedule
from builds.forms.functions import RuleForm
from builds.models import Build, LoadedFile, Role
from builds.selectors.engineering_inputs import design_of
from builds.selectors.quote_page import moved_lines
from builds.services.customer_links import make_handover_link
from builds.services.design_edits import edit_row
from builds.services.function_schedules import replace_schedule
from builds.services.registers import record_serial
from builds.services.revisions import release
from tests.builds.views.sheets import HTMX, marks
from tests.factories.builds import AT, make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db

TEXT = """# lamps
input mode: selector off, respond, block
input brake: signal meaning brake; wire C3-11
input hatch: signal meaning hatch; wire B1-2
input work: latching
channel bar-red: lamp; zone CAB; facing front; colour red; load L101
channel scene: lamp; zone CAB; facing rear; colour white; load L102
pattern beat: 300 ms on, 500 ms off
rule go (priority 10): bar-red flash beat when mode is respond; if lost, does not apply
rule cut (priority 90): bar-red inhibit when brake; if lost, applies
rule load (priority 10): scene steady when hatch for at least 3 s or work; if lost, does not apply
rule away (priority 1): work release when mode is respond; if lost, does not apply
claim alone: never scene is lit and mode is block
"""
CLAIM = TEXT.splitlines(keepends=True)[-1]


@pytest.fixture
def designer(client: Client) -> Any:
    make_shop()
    person = make_person(Role.DESIGNER)
    client.force_login(person)
    return person


@pytest.fixture
def build(designer: Any) -> Build:
    build = make_designed_build(designer)
    replace_schedule(build=build, text=TEXT, row_version=0, by=designer, at=AT)
    return build


def page(client: Client, build: Build, path: str = "", **query: str) -> str:
    return client.get(f"/builds/{build.number}/functions/{path}", query).content.decode()


def played(client: Client, build: Build, **query: str) -> str:
    return client.get(f"/builds/{build.number}/functions/play/", query, headers=HTMX).content.decode()


def said(markup: str) -> str:
    found = re.search(r'class="play-said"[^>]*>(.*?)</p>', markup)
    assert found
    return re.sub(r"\s+", " ", found[1]).replace("&quot;", '"')


def past(markup: str) -> str:
    found = re.search(r'name="past" value="([^"]*)"', markup)
    assert found
    return found[1].replace("&quot;", '"')


def test_a_toggle_is_answered_with_the_lamps_that_the_rules_light(client: Client, build: Build) -> None:
    rest, respond = played(client, build), played(client, build, **{"in:mode": "respond"})

    assert said(rest) == "Everything at rest: everything dark."
    assert said(respond) == "Mode respond: 1 output on."
    assert "flash beat" in respond and "by rule go" in respond
    assert rest.count("lamp-lit") == 0 and respond.count("lamp-lit") == 1


def test_a_lost_signal_does_what_the_fail_state_says(client: Client, build: Build) -> None:
    markup = played(client, build, **{"in:mode": "respond", "in:brake": "lost"})

    assert said(markup) == "Mode respond and brake lost: everything dark."
    assert "cut by rule cut" in markup


def test_a_timer_is_waited_for_step_by_step(client: Client, build: Build) -> None:
    at_once = played(client, build, **{"in:hatch": "on", "past": past(played(client, build))})
    after = played(client, build, wait="3000", past=past(at_once), **{"in:hatch": "on"})

    assert said(at_once) == "Hatch on: everything dark. A timer runs out in 3 s."
    assert 'hx-get="/builds' in at_once and "Wait 3 s" in at_once
    assert said(after) == "Hatch on: 1 output on."


def test_time_that_runs_by_itself_changes_lamps_no_oftener_than_every_400_ms(
    client: Client, build: Build, designer: Any
) -> None:
    text = TEXT.replace("at least 3 s", "at least 90 ms")
    replace_schedule(build=build, text=text, row_version=1, by=designer, at=AT)

    at_once = played(client, build, running="1", **{"in:hatch": "on", "past": past(played(client, build))})

    assert "wait=90" in at_once and "load delay:400ms" in at_once
    assert "slower than real" in at_once


def test_the_form_bears_no_later_start_than_the_text(build: Build) -> None:
    schedule = parse_schedule(TEXT)
    rule = RuleForm.values_of(schedule.rules[0])

    assert RuleForm(schedule, rule | {"phase": 10_000}).is_valid()
    assert "phase" in RuleForm(schedule, rule | {"phase": 10_001}).errors
    with pytest.raises(LanguageError):
        parse_schedule(TEXT.replace("flash beat", "flash beat phase 10001 ms"))


def test_a_button_that_a_rule_lets_go_stands_off_in_the_answer(client: Client, build: Build) -> None:
    pressed = played(client, build, **{"in:work": "on", "past": past(played(client, build))})
    driven_off = played(client, build, past=past(pressed), **{"in:work": "on", "in:mode": "respond"})

    assert said(pressed) == "Work on: 1 output on."
    assert said(driven_off) == "Mode respond: 1 output on."
    assert re.search(r'name="in:work" value="off" checked', driven_off)


def test_the_picture_is_still_until_asked_and_changes_at_most_once_a_second(client: Client, build: Build) -> None:
    still = played(client, build, **{"in:mode": "respond"})
    playing = played(client, build, playing="1", moment="0", **{"in:mode": "respond"})
    dark = played(client, build, moment="1", **{"in:mode": "respond"})

    assert "delay:" not in still
    assert [float(one) for one in re.findall(r"delay:([\d.]+)s\b", playing)] == [1.0]
    assert "lit now" in playing and "lamp-lit" in playing
    assert "dark now" in dark and "lamp-lit" not in dark


def test_a_refuted_claim_leads_to_the_picture_that_shows_it(client: Client, build: Build) -> None:
    whole = page(client, build)
    address = re.search(r'href="(\?claim=alone)#picture"', whole)
    shown = page(client, build, claim="alone")

    assert address and "Claim alone does not hold: from rest turn mode to block, bring hatch on and wait 3 s" in whole
    assert 'id="shown-claim"' in shown
    assert said(shown) == "Mode block and hatch on: 1 output on."


def test_text_with_faults_comes_back_with_their_places_and_is_not_kept(client: Client, build: Build) -> None:
    wrong = TEXT.replace("when brake;", "when brak;")

    answer = client.post(f"/builds/{build.number}/functions/text/", {"text": wrong, "row_version": "1"})

    assert answer.status_code == 422
    markup = answer.content.decode()
    assert 'data-line="10" data-column="46"' in markup and "expected “brake” perhaps" in markup
    assert "when brak;" in markup  # what was typed is still there
    assert design_of(build).function_schedule == TEXT


def test_a_rule_edited_as_a_form_is_the_same_edit_of_the_text(client: Client, build: Build) -> None:
    sent = {
        "key": "go", "priority": "20", "targets": "bar-red, scene", "effect": "flash", "pattern": "beat", "level": "60",
        "sync": "car", "phase": "250", "condition": "mode is respond and not brake", "fail": "applies", "row_version": "1",
    }  # fmt: skip

    answer = client.post(f"/builds/{build.number}/functions/statements/rule:go/", sent)

    assert answer.status_code == 302
    lines = design_of(build).function_schedule.splitlines()
    assert lines[8] == (
        "rule go (priority 20): bar-red, scene flash beat at 60 % sync car phase 250 ms "
        "when mode is respond and not brake; if lost, applies"
    )
    assert lines[:8] == TEXT.splitlines()[:8]
    assert 'value="250"' in page(client, build, "statements/rule:go/")


def test_a_fault_in_a_field_is_told_at_the_field_by_its_column(client: Client, build: Build) -> None:
    sent = {"key": "go", "priority": "x", "targets": "bar-redd", "effect": "flash", "condition": "mode is chase",
            "fail": "applies", "row_version": "1"}  # fmt: skip

    answer = client.post(f"/builds/{build.number}/functions/statements/rule:go/", sent)

    markup = answer.content.decode()
    assert answer.status_code == 422
    assert "Column 9: “mode” is never “chase”" in markup
    assert "Nothing here is called “bar-redd”." in markup and "Choose the pattern it flashes." in markup
    assert design_of(build).function_schedule == TEXT


def test_a_rule_is_added_and_taken_out(client: Client, build: Build) -> None:
    sent = {"key": "new one", "priority": "5", "targets": "scene", "effect": "steady", "level": "30",
            "condition": "mode is block", "fail": "does not apply", "row_version": "1"}  # fmt: skip
    added = client.post(f"/builds/{build.number}/functions/statements/rule:new/", sent)
    assert added.status_code == 302 and 'rule "new one" (priority 5)' in design_of(build).function_schedule

    gone = {"remove": "1", "row_version": "2"}
    client.post(f"/builds/{build.number}/functions/statements/rule:new one/", gone)

    assert design_of(build).function_schedule == TEXT


def test_a_condition_takes_the_setting_of_the_picture_and_the_strip_moves_with_a_rule(
    client: Client, build: Build
) -> None:
    key = build.conditions.first().key  # type: ignore[union-attr]
    client.post(f"/builds/{build.number}/functions/condition/", {"condition": key, "in:mode": "respond"})
    before = strip(page(client, build))

    text = TEXT.replace("flash beat when", "steady when")
    client.post(f"/builds/{build.number}/functions/text/", {"text": text, "row_version": "1"})

    assert design_of(build).conditions[0].input_settings[0].value == "respond"
    assert before != strip(page(client, build))


def test_a_setting_sent_without_the_picture_s_controls_is_refused(client: Client, build: Build) -> None:
    key = build.conditions.first().key  # type: ignore[union-attr]

    answer = client.post(f"/builds/{build.number}/functions/condition/", {"condition": key})

    assert answer.status_code == 422 and "Bring the picture to the setting first" in answer.content.decode()


def strip(markup: str) -> str:
    found = re.search(r'id="strip".*?class="strip-figure.*?</div>', markup, re.DOTALL)
    assert found
    return found[0].split('id="strip"')[1].split(">", 1)[1]


def test_the_working_schedule_is_compared_with_a_revision_by_what_it_does(
    client: Client, build: Build, designer: Any
) -> None:
    release(build=build, summary="first", by=designer, at=AT)
    reworded = TEXT.replace("rule go (priority 10)", "rule start (priority 12)")
    replace_schedule(build=build, text=reworded, row_version=1, by=designer, at=AT)
    same = page(client, build, "compare/", **{"with": "A"})
    replace_schedule(build=build, text=TEXT.replace("300 ms on", "400 ms on"), row_version=2, by=designer, at=AT)
    other = page(client, build, "compare/", **{"with": "A"})

    assert "The same behaviour" in same
    assert "turn mode to respond" in other and "bar-red" in other


def test_a_loading_is_written_read_back_and_older_once_the_schedule_changes(
    client: Client, build: Build, designer: Any
) -> None:
    serial = record_serial(part_line=build.parts.all()[0], serial="LC-7", by=designer, at=AT)
    sent = {"serial": serial.pk, "file_name": "van.cfg", "file_version": "3", "firmware": "2.1",
            "file_sha256": "AB:" + "0" * 62}  # fmt: skip
    client.post(f"/builds/{build.number}/functions/files/load/", sent)
    [loading] = LoadedFile.objects.all()
    assert loading.file_sha256 == "ab" + "0" * 62

    wrong = client.post(f"/builds/{build.number}/functions/files/{loading.pk}/read-back/", {"file_sha256": "0" * 64})
    client.post(f"/builds/{build.number}/functions/files/{loading.pk}/read-back/", {"file_sha256": loading.file_sha256})

    assert wrong.status_code == 422
    assert "file-older-than-schedule" not in page(client, build) and "Read back" in page(client, build)
    replace_schedule(build=build, text=TEXT + "# later\n", row_version=1, by=designer, at=AT)
    assert "file-older-than-schedule" not in page(client, build)  # a remark loads nothing
    replace_schedule(build=build, text=TEXT.replace("500 ms off", "600 ms off"), row_version=2, by=designer, at=AT)
    assert "file-older-than-schedule" in page(client, build)
    client.post(f"/builds/{build.number}/functions/files/load/", sent)
    assert LoadedFile.objects.count() == 2
    assert "file-older-than-schedule" in page(client, build)  # the same file again is no newer


def test_a_programmable_device_that_nobody_loaded_is_found_on_the_page_until_it_is(
    client: Client, build: Build, designer: Any
) -> None:
    line = build.parts.filter(removed=False).first()
    assert line is not None
    edit_row(build=build, family="part", key=line.key, row_version=line.row_version, by=designer, at=AT,
             values={"programmable": True, "quantity": 1})  # fmt: skip
    before = page(client, build)
    serial = record_serial(part_line=line, serial="LC-7", by=designer, at=AT)
    sent = {"serial": serial.pk, "file_name": "van.cfg", "file_version": "3", "firmware": "2.1",
            "file_sha256": "0" * 64}  # fmt: skip
    client.post(f"/builds/{build.number}/functions/files/load/", sent)

    assert "file-not-loaded" in before and f"{line.description} has no file loaded." in before
    assert "file-not-loaded" not in page(client, build) and "file-not-read-back" in page(client, build)


def test_a_build_without_a_schedule_says_what_is_absent(client: Client, designer: Any) -> None:
    build = make_designed_build(designer)

    assert "No functions are written down for this build." in page(client, build)
    assert "No functions are written down for this build." in page(client, build, "chart/")


def test_the_chart_says_by_control_what_it_does(client: Client, build: Build) -> None:
    markup = page(client, build, "chart/")

    assert "mode: respond" in markup and "bar-red: flash beat" in markup


def test_the_customer_s_link_plays_the_agreed_conditions_and_nothing_of_the_shop_s_own(
    build: Build, designer: Any
) -> None:
    condition = build.conditions.first()
    assert condition is not None
    replace_schedule(build=build, text=TEXT.replace(CLAIM, ""), row_version=1, by=designer, at=AT)
    edit_row(build=build, family="condition", key=condition.key, row_version=condition.row_version, by=designer, at=AT,
             values={"input_settings": [{"input": "mode", "value": "respond"}]})  # fmt: skip
    release(build=build, summary="first", by=designer, at=AT)
    manager = make_person(Role.MANAGER)
    token = make_handover_link(build=build, made_for="P. Lund", by=manager, at=timezone.now()).token
    nobody = Client()

    quote = nobody.get(f"/l/{token}/quote/").content.decode()
    lights = nobody.get(f"/l/{token}/lights/").content.decode()
    moment = nobody.get(f"/l/{token}/lights/", {"use": condition.key, "moment": "1"}, headers=HTMX).content.decode()

    assert f"/l/{token}/lights/" in quote
    assert condition.name in lights and "flash beat" in lights and lights.count("lamp-lit") == 1
    assert "rule go" not in lights and "/builds/" not in lights
    assert moment.startswith('<div id="lights">') and moment.count("lamp-lit") == 0


def test_a_customer_whose_build_has_no_functions_is_not_offered_their_lights(designer: Any) -> None:
    build = make_designed_build(designer)
    token = make_handover_link(build=build, made_for="P. Lund", by=make_person(Role.MANAGER), at=timezone.now()).token

    assert Client().get(f"/l/{token}/lights/").status_code == 302
    assert "/lights/" not in Client().get(f"/l/{token}/").content.decode()


def test_the_loads_of_a_condition_say_that_the_rules_light_them(client: Client, build: Build) -> None:
    key = build.conditions.first().key  # type: ignore[union-attr]
    client.post(f"/builds/{build.number}/functions/condition/", {"condition": key, "in:mode": "respond"})

    markup = client.get(f"/builds/{build.number}/loads-on/{key}/").content.decode()

    assert "The rules say what is on of all they drive, with mode respond: Lamp 1." in markup


def test_a_change_tells_the_customer_what_the_outputs_do_otherwise_and_not_how_rules_are_worded(
    build: Build,
) -> None:
    before = design_of(build)
    reworded = replace(before, function_schedule=TEXT.replace("rule go (", "rule start ("))
    slower = replace(before, function_schedule=TEXT.replace("500 ms off", "600 ms off"))

    assert moved_lines(before, reworded) == ()
    assert moved_lines(before, slower) == (
        "bar-red does something else: flash beat, in other times than before (from rest turn mode to respond)",
    )
    rewired = replace(
        before, function_schedule=TEXT.replace("channel bar-red: lamp;", "channel bar-red: lamp; low side;")
    )
    (line,) = moved_lines(before, rewired)
    assert line.startswith("Written down otherwise, channel bar-red: lamp;") and "now" in line and "low side" in line


def test_a_toggle_asks_the_database_few_questions(client: Client, build: Build) -> None:
    played(client, build)

    with CaptureQueriesContext(connection) as asked:
        played(client, build, **{"in:mode": "respond"})

    assert len(asked) <= 6


def test_an_open_sheet_is_told_of_changed_functions(client: Client, build: Build, designer: Any) -> None:
    seen = marks(client.get(f"/builds/{build.number}/").content.decode())
    replace_schedule(build=build, text=TEXT.replace(CLAIM, ""), row_version=1, by=designer, at=AT)

    answer = client.post(f"/builds/{build.number}/live/", {"seen": seen}, headers=HTMX).content.decode()

    assert 'id="functions-body"' in answer and "4 rules" in answer
