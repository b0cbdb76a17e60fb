"""Allowable amperage against 33 CFR 183.425 and a second printed table built on it."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering.electrical.ampacity import (
    ambient_factor_ratio,
    ampacity,
    bundle_factor_ratio,
    insulation_class_c,
)
from builds.engineering.electrical.conductors import ConductorSize, sizes
from builds.engineering.errors import OutOfRange, UnknownTableEntry
from builds.engineering.tables.loader import load_table
from builds.engineering.vocabulary import GaugeBasis

CLASSES = (60, 75, 80, 90, 105, 125, 200)

# Boat cable at 105 °C as printed by a cable maker: columns are 1-2, 3, 4-6 and 7-24 conductors, each outside and inside
# an engine space. The whole sheet is the Code's column times 1, 0.70, 0.60, 0.50 and 1, 0.85.
PRINTED_105C = """
18 20 17 14 11.9 12 10.2 10 8.5
16 25 21.3 17.5 14.9 15 12.8 12.5 10.6
14 35 29.8 24.5 20.8 21 17.9 17.5 14.9
12 45 38.3 31.5 26.8 27 23 22.5 19.1
10 60 51 42 35.7 36 30.6 30 25.5
8 80 68 56 47.6 48 40.8 40 34
6 120 102 84 71.4 72 61.2 60 51
4 160 136 112 95.2 96 81.6 80 68
2 210 178.5 147 125 126 107.1 105 89.3
1 245 208.3 171.5 145.8 147 125 122.5 104.1
1/0 285 242.3 199.5 169.6 171 145.4 142.5 121.1
2/0 330 280.5 231 196.4 198 168.3 165 140.3
3/0 385 327.3 269.5 229.1 231 196.4 192.5 163.6
4/0 445 378.3 311.5 264.8 267 227 222.5 189.1
"""
CELLS = [
    (row.split()[0], count, ambient, float(cell))
    for row in PRINTED_105C.split("\n")[1:-1]
    for (count, ambient), cell in zip(
        [(n, t) for n in (1, 3, 4, 7) for t in (30, 50)], row.split()[1:], strict=True
    )
]  # fmt: skip


def awg(gauge: str) -> ConductorSize:
    return ConductorSize(GaugeBasis.AWG, gauge)


@pytest.mark.parametrize(("gauge", "count", "ambient", "printed"), CELLS)
def test_every_cell_of_the_printed_105c_table(gauge: str, count: int, ambient: float, printed: float) -> None:
    allowed = ampacity(size=awg(gauge), insulation_c=105, ambient_c=ambient, bundle_count=count)

    # the sheet prints one decimal and rounds some 0.05 either way
    assert allowed.value_a == pytest.approx(printed, abs=0.051)


def test_the_code_table_never_falls_down_a_column_or_along_a_row() -> None:
    rows = [[int(row[str(c)]) for c in CLASSES] for row in load_table("allowable_amperage").rows]

    assert all(row == sorted(row) for row in rows)
    assert all(list(column) == sorted(column) for column in zip(*rows, strict=True))


# Boundary cases by hand: 30 A device, conductor at least 125 % of it (37.5 A).
@pytest.mark.parametrize(
    ("gauge", "insulation", "ambient", "count", "value", "carries"),
    [
        ("14", 105, 30, 1, 35.0, False),
        ("12", 105, 30, 1, 45.0, True),
        ("12", 105, 50, 4, 22.95, False),
        ("10", 105, 50, 6, 30.6, False),
        ("8", 105, 50, 6, 40.8, True),
        ("10", 125, 50, 6, 37.38, False),  # fails by 0.12 A
        ("8", 125, 50, 6, 48.06, True),
    ],
)
def test_boundary_cases_of_a_30_a_device(
    gauge: str, insulation: float, ambient: float, count: int, value: float, carries: bool
) -> None:
    allowed = ampacity(size=awg(gauge), insulation_c=insulation, ambient_c=ambient, bundle_count=count)

    assert allowed.value_a == pytest.approx(value)
    assert (allowed.value_a >= 37.5) is carries


@pytest.mark.parametrize(
    ("count", "factor"), [(1, 1), (2, 1), (3, 0.7), (4, 0.6), (6, 0.6), (7, 0.5), (24, 0.5), (25, 0.4), (60, 0.4)]
)
def test_bundle_band_edges(count: int, factor: float) -> None:
    assert bundle_factor_ratio(count=count) == factor


# 33 CFR 183.425 Note 1. 105 °C read in two secondary sources, the rest from memory; all but 200 °C within 0.8 % of the law.
@pytest.mark.parametrize(
    ("insulation", "factor"), [(60, 0.58), (75, 0.75), (80, 0.78), (90, 0.82), (105, 0.85), (125, 0.89), (200, 1.00)]
)
def test_at_50_c_the_tabulated_factor_stands(insulation: float, factor: float) -> None:
    law = math.sqrt((insulation - 50) / (insulation - 30))

    assert ambient_factor_ratio(insulation_c=insulation, ambient_c=50) == factor
    assert factor == pytest.approx(law, rel=0.008 if insulation < 200 else 0.07)


def test_hot_engine_bay_by_hand() -> None:
    # 125 °C insulation at 105 °C: sqrt(20 / 95) = 0.4588
    assert ambient_factor_ratio(insulation_c=125, ambient_c=105) == pytest.approx(0.45883, abs=1e-5)


def test_at_its_own_temperature_insulation_carries_nothing() -> None:
    assert ampacity(size=awg("4"), insulation_c=105, ambient_c=105).value_a == 0
    assert ambient_factor_ratio(insulation_c=105, ambient_c=140) == 0


def test_cold_adds_nothing() -> None:
    assert (
        ambient_factor_ratio(insulation_c=105, ambient_c=-40)
        == ambient_factor_ratio(insulation_c=105, ambient_c=30)
        == 1
    )


hot = st.floats(30, 199).filter(lambda t: t != 50)


@given(st.sampled_from(CLASSES), hot, hot)
def test_by_the_law_a_hotter_place_never_carries_more(insulation: float, one: float, other: float) -> None:
    cooler, hotter = sorted((one, other))

    assert ambient_factor_ratio(insulation_c=insulation, ambient_c=hotter) <= ambient_factor_ratio(
        insulation_c=insulation, ambient_c=cooler
    )


@given(st.sampled_from(GaugeBasis), st.sampled_from(CLASSES), st.floats(-40, 200), st.integers(1, 40), st.data())
def test_a_larger_size_never_carries_less(
    basis: GaugeBasis, insulation: float, ambient: float, count: int, data
) -> None:
    tabulated = [size for size in sizes(basis) if size.gauge not in {"20", "22", "0.35", "0.5", "0.75"}]
    at = data.draw(st.integers(0, len(tabulated) - 2))

    smaller, larger = (
        ampacity(size=size, insulation_c=insulation, ambient_c=ambient, bundle_count=count).value_a
        for size in tabulated[at : at + 2]
    )

    assert smaller <= larger


def test_the_result_explains_itself() -> None:
    allowed = ampacity(size=awg("10"), insulation_c=125, ambient_c=60, bundle_count=5)

    assert allowed.base_a == 70
    assert allowed.ambient_ratio == pytest.approx(math.sqrt(65 / 95))
    assert allowed.bundle_ratio == 0.6
    assert allowed.value_a == pytest.approx(allowed.base_a * allowed.ambient_ratio * allowed.bundle_ratio)
    assert allowed.source == "33 CFR 183.425 Table 5"
    assert allowed.edition


def test_insulation_between_columns_reads_the_lower_one() -> None:
    # GPT is rated 80 to 85 °C
    assert [insulation_class_c(insulation_c=t) for t in (60, 85, 104.9, 105, 150, 260)] == [60, 80, 90, 105, 125, 200]


def test_a_metric_size_reads_the_gauge_whose_least_area_it_reaches() -> None:
    # 5 mm² is the nominal size of SAE 10 (4.734 mm²); 4 mm² reaches only SAE 12 (2.956 mm²)
    four, six = (ampacity(size=ConductorSize(GaugeBasis.METRIC, s), insulation_c=105, ambient_c=30) for s in ("4", "6"))

    assert (four.table_gauge, four.value_a) == ("12", 45)
    assert (six.table_gauge, six.value_a) == ("10", 60)


@pytest.mark.parametrize("size", [awg("20"), ConductorSize(GaugeBasis.METRIC, "0.75")])
def test_a_size_under_18_gauge_has_no_row(size: ConductorSize) -> None:
    with pytest.raises(UnknownTableEntry, match="18 gauge"):
        ampacity(size=size, insulation_c=105, ambient_c=30)


@pytest.mark.parametrize(
    "wrong", [{"insulation_c": 59}, {"ambient_c": 301}, {"ambient_c": float("nan")}, {"bundle_count": 0}]
)
def test_arguments_out_of_range_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRange):
        ampacity(**{"size": awg("10"), "insulation_c": 105, "ambient_c": 30, "bundle_count": 1} | wrong)
