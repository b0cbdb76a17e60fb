"""The schedules of the reference page do what the page says of them."""

import pytest

from builds.engineering.findings import Severity
from builds.engineering.functions.checks import check_schedule
from builds.engineering.functions.mutation import sharp_plan
from builds.engineering.functions.proof import Verdict
from tests.engineering.functions.language_page import COMPILED, examples, expected, shown_after

BEHAVIOURS = 11
EXAMPLES = examples()


def test_the_page_has_a_schedule_with_claims_and_a_table_for_each_behaviour() -> None:
    assert len(EXAMPLES) == BEHAVIOURS
    assert all(
        example.schedule.claims and len(example.rows) >= 5 for example in EXAMPLES if example.name != "white takes over"
    )


@pytest.mark.parametrize(
    ("name", "do", "then"),
    [(example.name, do, then) for example in EXAMPLES for do, then in example.rows],
)
def test_a_row_of_a_table_comes_true(name: str, do: str, then: str) -> None:
    shown = shown_after(COMPILED[name], do)

    assert [(channel, shown[channel]) for channel, _ in expected(then)] == expected(then)


@pytest.mark.parametrize("name", COMPILED)
def test_every_claim_of_the_page_is_proved_and_nothing_is_wrong(name: str) -> None:
    report = check_schedule(COMPILED[name].schedule)

    assert {result.verdict for result in report.claims} == {Verdict.PROVED}
    assert [finding.message for finding in report.findings if finding.severity is not Severity.NOTE] == []


@pytest.mark.parametrize("name", COMPILED)
def test_the_plan_of_a_schedule_notices_98_of_100_faults(name: str) -> None:
    _, report = sharp_plan(COMPILED[name])

    assert sum(report.killed.values()) > 10
    assert report.score_ratio >= 0.98
