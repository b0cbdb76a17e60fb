"""The core's tables: every head is whole, every standing is a known word, and the rows hold together."""

from itertools import pairwise

import pytest

from builds.engineering.errors import UnknownTableEntry
from builds.engineering.tables.loader import STATUSES, load_table, table_names


@pytest.mark.parametrize("name", table_names())
def test_every_table_names_source_edition_units_and_standing(name: str) -> None:
    table = load_table(name)

    assert all((table.title, table.source, table.edition, table.units))
    assert table.status in STATUSES
    assert table.rows
    assert {table.status_of(row) for row in table.rows} <= set(STATUSES)


@pytest.mark.parametrize("name", table_names())
def test_every_row_has_every_column_and_none_too_many(name: str) -> None:
    for row in load_table(name).rows:
        assert None not in row
        assert None not in row.values()


def test_a_table_is_read_once() -> None:
    assert load_table("bundle_factors") is load_table("bundle_factors")


def test_a_table_that_is_not_there_is_named() -> None:
    with pytest.raises(UnknownTableEntry, match="wire_prices"):
        load_table("wire_prices")


def test_a_table_without_a_source_is_refused(tmp_path, monkeypatch) -> None:
    (tmp_path / "half.csv").write_text("# title: half a head\ncolumn\n1\n", encoding="utf-8")
    monkeypatch.setattr("builds.engineering.tables.loader._FOLDER", tmp_path)

    with pytest.raises(UnknownTableEntry, match="source"):
        load_table("half")


def test_families_ratings_and_curves_speak_of_the_same_families() -> None:
    families = {row["family"] for row in load_table("device_families").rows}

    for name in ("device_ratings", "interrupting_capacities", "rerating_curves"):
        assert {row["family"] for row in load_table(name).rows} == families
    assert {row["family"] for row in load_table("opening_times").rows} <= families


def test_bundle_bands_leave_no_gap_and_do_not_overlap() -> None:
    rows = load_table("bundle_factors").rows

    assert int(rows[0]["from_count"]) == 1
    for row, following in pairwise(rows):
        assert int(row["to_count"]) + 1 == int(following["from_count"])
    assert rows[-1]["to_count"] == ""
