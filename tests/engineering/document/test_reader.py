"""Reading a document: every fault is found, at its pointer, in words that say what to mend."""

import copy
import json
from typing import Any

import pytest

from builds.engineering.design import Circuit
from builds.engineering.document import DocumentFaults, canonical_text, read_document
from builds.engineering.document.upgrades import upgraded
from tests.engineering.document.samples import small_design, small_document, small_text

ABSENT = object()


def faults_of(text: str | bytes) -> list[str]:
    with pytest.raises(DocumentFaults) as caught:
        read_document(text)
    return [str(fault) for fault in caught.value.faults]


def document_with(pointer: str, value: Any) -> dict[str, Any]:
    """Return the small document with the value at a pointer set, or taken out."""
    document = copy.deepcopy(small_document())
    *path, last = [int(step) if step.isdecimal() else step for step in pointer.strip("/").split("/")]
    place: Any = document
    for step in path:
        place = place[step]
    if value is ABSENT:
        del place[last]
    else:
        place[last] = value
    return document


def test_a_sound_document_becomes_its_design() -> None:
    design = small_design()

    assert design.number == "9001"
    assert design.circuits == (
        Circuit(
            number="101",
            legend="WORK LAMP",
            panel="P1",
            position=1,
            device_family="ATO",
            device_rating_a=10.0,
            gauge="14",
            length_m=4.125,
            return_node="G1",
            return_length_m=1.0,
        ),
    )


def test_a_remark_on_the_file_is_read_over() -> None:
    assert read_document(json.dumps({**small_document(), "about": "Invented."})) == small_design()


def test_a_byte_order_mark_is_read_over() -> None:
    assert read_document(b"\xef\xbb\xbf" + small_text().encode()) == small_design()


def test_a_whole_number_may_be_written_with_a_zero_after_the_point() -> None:
    text = small_text().replace('"position": 1', '"position": 1.0')

    assert read_document(text) == small_design()


@pytest.mark.parametrize(
    ("pointer", "value", "said"),
    [
        pytest.param("/build/circuits/0/length_m", 4.12345, "4.12345 has more than 3 decimals", id="decimals"),
        pytest.param("/build/circuits/0/length_m", -1, "-1 must be from 0 to 100", id="below"),
        pytest.param("/build/circuits/0/length_m", 101, "101 must be from 0 to 100", id="above"),
        pytest.param("/build/circuits/0/length_m", "4 m", "must be a number, not text in quotation marks", id="text"),
        pytest.param("/build/circuits/0/length_m", True, "must be a number, not true or false", id="flag"),
        pytest.param(
            "/build/circuits/0/length_m",
            None,
            "must be a number; leave the field out where there is nothing to say",
            id="null",
        ),
        pytest.param("/build/circuits/0/length_m", ABSENT, "is missing", id="missing"),
        pytest.param(
            "/build/circuits/0/lenght_m", 4, "there is no such field here; perhaps length_m is meant", id="misspelt"
        ),
        pytest.param("/build/circuits/0/position", 1.5, "1.5 is not a whole number", id="fraction"),
        pytest.param("/build/circuits/0/position", 0, "0 must be from 1 to 10000", id="position-zero"),
        pytest.param("/build/circuits/0/bundle", 10_001, "10001 must be from 1 to 10000", id="count-too-large"),
        pytest.param("/build/circuits/0/legend", "L" * 61, "is 61 characters long; at most 60 are kept", id="long"),
        pytest.param(
            "/build/circuits/0/number",
            "-1",
            '"-1" must be 1 to 40 letters, digits, spaces and . _ / + -, starting with a letter or a digit, with no space at the end',
            id="key",
        ),
        pytest.param(
            "/build/circuits/0/number",
            "101 ",
            '"101 " must be 1 to 40 letters, digits, spaces and . _ / + -, starting with a letter or a digit, with no space at the end',
            id="a space nobody sees",
        ),
        pytest.param(
            "/build/number",
            "26 14",
            '"26 14" must be 1 to 12 letters, digits and -, starting with a letter or a digit',
            id="build-number",
        ),
        pytest.param("/build/title", "  ", "must not be empty, nor begin or end with a space", id="title"),
        pytest.param("/build/kind", "repair", '"repair" is not one of new, transfer, decommission, service', id="kind"),
        pytest.param(
            "/build/circuits", {}, "must be a list in square brackets, not a group of fields in braces", id="list"
        ),
        pytest.param("/build/circuits/0", 7, "must be a group of fields in braces, not a whole number", id="object"),
        pytest.param("/build/loads/0/duty_ratio", 0, "0 must be above 0 and at most 1", id="ratio"),
        pytest.param("/build/vehicle/model_year", 20255, "20255 must be from 1900 to 2100", id="year"),
        pytest.param("/build/circuits/0/panel", "P9", 'there is no node "P9" in this document', id="panel"),
        pytest.param("/build/circuits/0/return_node", "G9", 'there is no node "G9" in this document', id="return"),
        pytest.param("/build/circuits/0/zones", ["roof"], 'there is no zone "roof" in this document', id="zone-listed"),
        pytest.param("/build/nodes/1/zone", "roof", 'there is no zone "roof" in this document', id="zone"),
        pytest.param("/build/nodes/2/chassis", "FRAME", 'there is no node "FRAME" in this document', id="chassis"),
        pytest.param(
            "/build/nodes/0/battery", ABSENT, "is missing: a node of kind battery carries its figures here", id="spec"
        ),
        pytest.param("/build/loads/0/circuit", "999", 'there is no circuit "999" in this document', id="circuit"),
        pytest.param("/build/runs/0/to_node", "BAT1", "a run joins two different nodes", id="run-to-itself"),
        pytest.param("/build/conditions/0/source_high_v", 12, "12 is below source_low_v, 13.2", id="voltages"),
        pytest.param("/build/conditions/0/uses/0/load", "L9", 'there is no load "L9" in this document', id="use"),
        pytest.param("/schema", 2, "2 is newer than this version reads forms up to 1", id="newer"),
        pytest.param("/schema", 0, "must be 1", id="older"),
        pytest.param("/schema", "1", "must be 1", id="schema-text"),
        pytest.param("/format", "other", 'must be "baywright-build"; this text is something else', id="format"),
    ],
)
def test_a_fault_is_told_at_its_pointer(pointer: str, value: Any, said: str) -> None:
    told = faults_of(json.dumps(document_with(pointer, value)))

    where = pointer if "[" in said or not pointer.endswith("/zones") else f"{pointer}/0"
    assert f"{where}: {said}" in told


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ({"key": "drop", "value": 1, "source": ""}, "/build/buyer/rules/0/key: the catalogue of buyer rules has no"),
        ({"key": "device-loading", "value": 2, "source": ""}, "/build/buyer/rules/0/value: 2 must be from 0.3 to 1"),
        (
            {"key": "device-loading", "value": "x", "source": ""},
            "/build/buyer/rules/0/value: device-loading asks for a",
        ),
        ({"key": "splices", "value": 1, "source": ""}, "/build/buyer/rules/0/value: splices asks for text"),
        (
            {"key": "hold-signer", "value": "x", "source": ""},
            '/build/buyer/rules/0/value: "x" is not one of other_tech',
        ),
    ],
)
def test_a_buyer_rule_is_held_to_the_catalogue(rule: dict[str, Any], said: str) -> None:
    [told] = faults_of(json.dumps(document_with("/build/buyer/rules", [rule])))

    assert told.startswith(said)


def test_the_least_value_of_a_rule_is_allowed() -> None:
    """0.8 as a decimal is below 0.8 as a binary fraction; the range is of what people write."""
    rule = {"key": "conductor-margin", "value": 0.8, "source": ""}

    assert read_document(json.dumps(document_with("/build/buyer/rules", [rule]))).buyer.rules[0].value == 0.8


def test_all_faults_are_found_in_one_reading() -> None:
    document = document_with("/build/circuits/0/length_m", 4.12345)
    document["build"]["circuits"][0]["panel"] = "P9"
    document["build"]["runs"][0]["gauge"] = 8
    document["build"]["loads"].append({**document["build"]["loads"][0]})
    del document["build"]["platform"]["seats"]

    assert faults_of(json.dumps(document)) == [
        "/build/circuits/0/length_m: 4.12345 has more than 3 decimals",
        '/build/circuits/0/panel: there is no node "P9" in this document',
        '/build/loads/1/key: "L101" is used twice; it first stands at /build/loads/0',
        "/build/platform/seats: is missing",
        "/build/runs/0/gauge: must be text in quotation marks, not a whole number",
    ]


def test_a_load_named_twice_in_a_condition_is_a_fault() -> None:
    document = document_with("/build/conditions/0/uses", [{"load": "L101"}, {"load": "L101"}])

    assert faults_of(json.dumps(document)) == [
        '/build/conditions/0/uses/1/load: load "L101" is named twice in this condition'
    ]


def test_two_circuits_on_one_position_are_no_fault_of_the_document() -> None:
    document = small_document()
    document["build"]["circuits"].append({**document["build"]["circuits"][0], "number": "102", "position": 1})

    assert len(read_document(json.dumps(document)).circuits) == 2


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param("", "document: the text is empty", id="empty"),
        pytest.param("{", "document: the text stops being JSON at line 1, column 2", id="cut-off"),
        pytest.param("[]", "document: a build document is a group of fields in braces", id="list"),
        pytest.param("null", "document: a build document is a group of fields in braces", id="null"),
        pytest.param("[" * 100_000, "document: brackets are nested more than 12 deep", id="depth-bomb"),
        pytest.param(
            " " * 5_000_001, "document: the text is larger than 5 MB; a build document is far smaller", id="5mb"
        ),
        pytest.param(b"\x80\x81", "document: the file is not UTF-8 text (byte 1); save it as UTF-8", id="binary"),
        pytest.param(
            b"\xff\xfe{\x00}\x00", "document: the file is not UTF-8 text (byte 1); save it as UTF-8", id="utf-16"
        ),
        pytest.param('{"a":"\x01"}', "document: the text stops being JSON at line 1, column 7", id="control-character"),
    ],
)
def test_a_text_that_cannot_be_read_is_one_fault(text: str | bytes, said: str) -> None:
    assert faults_of(text) == [said]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        pytest.param(
            '"number": "101"',
            '"number": "101", "number": "102"',
            "/build/circuits/0/number: this field stands here more than once",
            id="doubled-name",
        ),
        pytest.param('"current_a": 4', '"current_a": NaN', "/build/loads/0/current_a: NaN is not a number", id="nan"),
        pytest.param(
            '"current_a": 4', '"current_a": -Infinity', "/build/loads/0/current_a: -Infinity is not a number", id="inf"
        ),
        pytest.param(
            '"current_a": 4',
            '"current_a": 1e400',
            "/build/loads/0/current_a: 1E+400 must be from 0 to 2000",
            id="1e400",
        ),
        pytest.param(
            '"current_a": 4',
            '"current_a": 1e99999999999999999999',
            "/build/loads/0/current_a: 1e99999999999999999999 is not a number",
            id="exponent-beyond-decimals",
        ),
        pytest.param(
            '"current_a": 4',
            f'"current_a": {"9" * 6000}',
            "/build/loads/0/current_a: 999999999999999999999999999999999999999… must be from 0 to 2000",
            id="six-thousand-digits",
        ),
        pytest.param(
            '"current_a": 4', '"current_a": 1e-999999', "/build/loads/0/current_a: 1E-999999 has more than 3", id="tiny"
        ),
        pytest.param(
            '"Work lamp"',
            '"\\ud800"',
            "/build/loads/0/name: the text holds a character that cannot be printed",
            id="half",
        ),
        pytest.param(
            '"Work lamp"',
            '"a\\u0000b"',
            "/build/loads/0/name: the text holds a character that cannot be printed",
            id="nul",
        ),
        pytest.param(
            '"Work lamp"',
            '"Work\\u202e lamp"',
            "/build/loads/0/name: the text holds a character that cannot be printed",
            id="turned round",
        ),
        pytest.param(
            '"legend"',
            '"leg\\u0000end"',
            "/build/circuits/0: a field's name holds a character that cannot be",
            id="name",
        ),
    ],
)
def test_what_json_half_allows_is_a_fault_at_its_pointer(old: str, new: str, said: str) -> None:
    assert any(told.startswith(said) for told in faults_of(small_text().replace(old, new, 1)))


def test_deep_nesting_inside_a_document_is_told_where_it_starts() -> None:
    deep: Any = 1
    for _ in range(200):
        deep = [deep]

    told = faults_of(json.dumps(document_with("/build/parts", deep)))

    assert "/build/parts/0: brackets are nested more than 12 deep" in told


def test_faults_beyond_the_listed_ones_are_counted() -> None:
    document = document_with("/build/loads", [7] * 300)

    told = faults_of(json.dumps(document))

    assert len(told) == 201
    assert told[-1] == "document: 101 more faults are not listed"  # 300 loads and a use of one that is gone, less 200


def test_an_older_form_is_brought_up_step_by_step() -> None:
    """With steps of the test's own: the present form is the first, so the table of the product is empty."""
    steps = {1: lambda build: {**build, "two": True}, 2: lambda build: {**build, "three": build["two"]}}

    values = upgraded({"schema": 1, "build": {}}, present=3, upgrades=steps)

    assert values == {"schema": 3, "build": {"two": True, "three": True}}


def test_a_form_that_no_chain_of_upgrades_reaches_is_left_alone() -> None:
    assert upgraded({"schema": 1, "build": {}}, present=3, upgrades={2: dict}) == {"schema": 1, "build": {}}


def test_faults_of_a_function_schedule_are_told_at_its_pointer_by_line_and_column() -> None:
    text = "input park: signal; wire C1\nchannel siren: siren\nrule r (priority 3): siren steady when prak; if lost, applies\n"

    found = faults_of(json.dumps(document_with("/build/function_schedule", text)))

    assert found == [
        "/build/function_schedule: line 3, column 40: Nothing here is called “prak”; expected “park” perhaps."
    ]


def test_an_input_set_twice_in_a_condition_is_a_fault() -> None:
    twice = [{"input": "mode", "value": "on"}, {"input": "mode", "value": "off"}]

    found = faults_of(json.dumps(document_with("/build/conditions/0/input_settings", twice)))

    assert found == ['/build/conditions/0/input_settings/1/input: input "mode" is set twice in this condition']


def test_a_document_without_functions_keeps_the_text_it_had_before_they_were_known() -> None:
    text = canonical_text(small_design())

    assert "function_schedule" not in text and "input_settings" not in text


_STEP = {"key": "S1", "name": "outlets", "off_below_v": 12.1, "on_above_v": 13.2}
_SEGMENT = {"key": "T1", "profile": "D1", "condition": "work", "duration_min": 30}


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("shed_steps", [{**_STEP, "on_above_v": 12}], "/build/shed_steps/0/on_above_v: 12 is below off_below_v, 12.1"),
        ("shed_steps", [{**_STEP, "battery": "P1"}], '/build/shed_steps/0/battery: "P1" is no battery'),
        ("duty_segments", [{**_SEGMENT, "engine_stops": 30}],
         "/build/duty_segments/0/engine_stops: the stops take longer than the segment"),
        ("duty_segments", [{**_SEGMENT, "condition": "rest"}],
         '/build/duty_segments/0/condition: there is no condition "rest" in this document'),
        ("duty_segments", [_SEGMENT, _SEGMENT],
         '/build/duty_segments/1/key: "T1" is used twice; it first stands at /build/duty_segments/0'),
    ],
)  # fmt: skip
def test_faults_of_duty_and_shedding_are_told_at_their_pointer(field: str, value: Any, told: str) -> None:
    document = document_with("/build/duty_profiles", [{"key": "D1", "name": "a shift"}])
    document["build"][field] = value

    assert faults_of(json.dumps(document)) == [told]
