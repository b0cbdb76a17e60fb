"""Duty profiles on the sheet and on their own page: rows kept in place, plots beside words and a table."""

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from builds.models import Build, Role
from builds.services.design_edits import add_row, edit_row
from tests.builds.views.sheets import HTMX, keep, marks, opened
from tests.factories.builds import AT, make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def build(client: Client) -> Build:
    """A build with one profile of two segments and a step that sheds its first lamp."""
    make_shop()
    by = make_person(Role.DESIGNER, short_name="M. Vale")
    client.force_login(by)
    build = make_designed_build(by)

    def add(family: str, **values: Any) -> None:
        add_row(build=build, family=family, values=values, by=by, at=AT)

    add("condition", key="stand", name="Standing, engine off", source_state="engine_off", source_low_v=12, source_high_v=12.8,
        uses=[{"load": load.key} for load in build.loads.all()])  # fmt: skip
    add("shed", key="S1", name="work lamps", off_below_v=12.4, on_above_v=13.2)
    add("duty", key="D1", name="A long night")
    add("segment", key="T1", profile="D1", condition="idle", duration_min=30)
    add("segment", key="T2", profile="D1", condition="stand", duration_min=1800)
    edit_row(build=build, family="load", key=build.loads.first().key, values={"shed_step": "S1"}, row_version=1,
             by=by, at=AT)  # fmt: skip
    return build


def page(client: Client, build: Build) -> str:
    return client.get(f"/builds/{build.number}/duty/D1/").content.decode()


def test_sheet_shows_profiles_segments_and_steps_as_rows(client: Client, build: Build) -> None:
    sheet = client.get(f"/builds/{build.number}/").content.decode()

    for element in ("duty-D1", "segment-T1", "segment-T2", "shed-S1"):
        assert f'<tbody id="{element}"' in sheet
    assert "after 30 min" in sheet and "30 h" in sheet
    assert "below 12.4 V for 60 s" in sheet
    assert re.search(r"off after [\d.]+ h of D1", sheet)


def test_kept_segment_brings_its_profile_and_the_findings_along(client: Client, build: Build) -> None:
    seen = marks(client.get(f"/builds/{build.number}/").content.decode())

    response = keep(client, build.number, "segment:T2", duration_min="60", seen=seen)

    text = response.content.decode()
    assert response.status_code == 200
    assert text.startswith('<tbody id="segment-T2"')
    assert 'id="duty-D1"' in text  # it is shorter now, and its lowest charge higher
    assert build.duty_segments.get(key="T2").duration_min == 60


def test_a_step_that_restores_below_where_it_sheds_is_refused_at_its_field(client: Client, build: Build) -> None:
    response = keep(client, build.number, "shed:S1", on_above_v="12.1")

    assert response.status_code == 422
    assert "12.1 is below the voltage at which it goes off, 12.4" in response.content.decode()
    assert build.shed_steps.get(key="S1").on_above_v == Decimal("13.2")


@pytest.mark.parametrize(
    ("family", "fields"),
    [
        ("duty", {"key": "D2", "name": "A short night", "start_ratio": "80", "battery_c": "0"}),
        ("segment", {"key": "T3", "profile": "D1", "condition": "idle", "duration_min": "45"}),
        ("shed", {"key": "S2", "name": "outlets", "off_below_v": "12.1", "on_above_v": "13"}),
    ],
)
def test_a_row_is_added_from_its_form_with_an_address_proposed(
    client: Client, build: Build, family: str, fields: dict[str, str]
) -> None:
    form = client.get(f"/builds/{build.number}/", {"add": family}, headers=HTMX).content.decode()
    assert f'value="{fields["key"]}"' in form

    response = client.post(f"/builds/{build.number}/rows/{family}/", fields, headers=HTMX)

    assert response.status_code == 200, response.content.decode()[:500]
    assert f"{family}-{fields['key']}" in response.content.decode()


def test_a_load_is_put_on_a_step_and_on_the_never_shed_list(client: Client, build: Build) -> None:
    keep(client, build.number, "load:L102", shed_step="S1", never_shed="on", run_on_min="15")

    row = build.loads.get(key="L102")
    assert (row.shed_step.key, row.never_shed, row.run_on_min) == ("S1", True, 15)
    assert opened(client, build.number, "load:L102")["shed_step"] == "S1"
    sheet = client.get(f"/builds/{build.number}/").content.decode()
    assert "never-shed-in-step" in sheet


def test_page_says_in_words_and_figures_what_the_plots_show(client: Client, build: Build) -> None:
    text = page(client, build)

    assert text.count('class="duty-plot"') == 2  # one for a desk, one for a phone
    assert 'aria-label="Charge, voltage and currents over “A long night”' in text
    assert "step S1 (work lamps) goes off" in text
    assert "1 · T1" in text and "2 · T2" in text
    assert re.search(r"Sources gave [\d.,]+ Ah, loads took [\d.,]+ Ah", text)
    assert "style=" not in re.sub(r"<head>.*?</head>", "", text, flags=re.DOTALL)


def test_page_of_a_profile_without_segments_says_what_is_missing(client: Client, build: Build) -> None:
    build.duty_segments.all().delete()

    assert "A profile needs segments" in page(client, build)


def test_unknown_profile_is_not_found(client: Client, build: Build) -> None:
    assert client.get(f"/builds/{build.number}/duty/D9/").status_code == 404


def test_removing_a_profile_takes_its_segments_off_the_sheet(client: Client, build: Build) -> None:
    sent = opened(client, build.number, "duty:D1")

    response = client.post(f"/builds/{build.number}/row-remove/duty/D1/", sent, headers=HTMX)

    assert response.status_code == 200
    assert not build.duty_segments.exists()


def test_preview_says_how_low_the_batteries_would_go(client: Client, build: Build) -> None:
    sent = opened(client, build.number, "segment:T2") | {"duration_min": "60"}

    response = client.post(f"/builds/{build.number}/row-preview/segment/T2/", sent, headers=HTMX)

    assert re.search(r"lowest charge of BAT1 <strong>[\d.]+ → [\d.]+ %", response.content.decode())


def test_title_of_an_open_row_keeps_its_address_as_it_is_written(client: Client, build: Build) -> None:
    text = client.get(f"/builds/{build.number}/", {"edit": "segment:T2"}, headers=HTMX).content.decode()

    assert "Segment T2" in text


def test_page_of_a_condition_tells_what_its_flashing_lamps_take(client: Client, build: Build) -> None:
    build.loads.filter(key="L102").update(duty_ratio="0.5", can_be_steady=False)

    text = client.get(f"/builds/{build.number}/loads-on/stand/").content.decode()

    load = build.loads.get(key="L102")
    row = re.search(r'id="flashes".*?<tbody>(.*?)</tbody>', text, re.DOTALL)
    assert row is not None and "L102" in row.group(1)
    assert f'data-label="Mean A">{load.current_a * load.quantity / 2:.1f}<' in row.group(1)
    assert f'data-label="Peak A">{load.current_a * load.quantity:.1f}<' in row.group(1)
