"""Areas and resistances of conductor sizes, against printed tables."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering.electrical.conductors import (
    ConductorSize,
    area_mm2,
    next_larger,
    resistance_ohm_per_m,
    resistance_ratio,
    sizes,
    smallest_of_area,
)
from builds.engineering.errors import NoStandardSize, OutOfRange, UnknownTableEntry
from builds.engineering.tables.loader import load_table
from builds.engineering.units import M_PER_FT, circular_mils_cmil
from builds.engineering.vocabulary import GaugeBasis

# Printed wire table (a physics reference site): circular mils and ohms per 1000 ft of solid copper at 20 °C.
PRINTED_AWG = {
    "4/0": (211600, 0.0490), "3/0": (167810, 0.0618), "2/0": (133080, 0.0779), "1/0": (105530, 0.0983),
    "1": (83694, 0.1239), "2": (66373, 0.1563), "3": (52634, 0.1970), "4": (41742, 0.2485), "6": (26250, 0.3951),
    "8": (16509, 0.6282), "10": (10381, 0.9989), "12": (6529, 1.588), "14": (4106.8, 2.525), "16": (2582.9, 4.016),
    "18": (1624.3, 6.385), "20": (1021.5, 10.15), "22": (642.4, 16.14),
}  # fmt: skip

# Ohms per foot of SAE metric sizes as printed in a diesel service manual, p. 12-4: an independent set.
PRINTED_SAE_OHM_PER_FT = {
    "18": 0.006340, "16": 0.004359, "14": 0.002685, "12": 0.001704, "10": 0.001073, "8": 0.000707, "6": 0.000421,
    "4": 0.000270, "2": 0.000158, "1": 0.000130, "1/0": 0.000103, "2/0": 0.000087, "3/0": 0.000066, "4/0": 0.000051,
}  # fmt: skip


@pytest.mark.parametrize("gauge", PRINTED_AWG)
def test_awg_area_and_resistance_equal_the_printed_table(gauge: str) -> None:
    cmil, ohm_per_kft = PRINTED_AWG[gauge]
    size = ConductorSize(GaugeBasis.AWG, gauge)

    assert circular_mils_cmil(area_mm2(size)) == pytest.approx(cmil, rel=1e-3)
    # 0.1 %, and the last digit the page prints
    assert resistance_ohm_per_m(size=size) * 1000 * M_PER_FT == pytest.approx(ohm_per_kft, rel=1e-3, abs=6e-5)


@pytest.mark.parametrize("row", load_table("awg_areas").rows, ids=lambda row: row["gauge"])
def test_awg_table_is_what_the_formula_gives(row) -> None:
    # ASTM B258: d = 0.005 in x 92^((36 - n) / 39), n = 0, -1, -2, -3 for 1/0 to 4/0
    gauge = row["gauge"]
    n = 1 - int(gauge[0]) if "/" in gauge else int(gauge)
    diameter_mm = 0.127 * 92 ** ((36 - n) / 39)

    assert float(row["diameter_mm"]) == pytest.approx(diameter_mm, abs=5.1e-5)
    assert float(row["area_mm2"]) == pytest.approx(math.pi / 4 * diameter_mm**2, abs=5.1e-5)


def test_three_gauges_double_the_area_and_ten_make_it_tenfold() -> None:
    def area(gauge: str) -> float:
        return area_mm2(ConductorSize(GaugeBasis.AWG, gauge))

    assert area("1") / area("4") == pytest.approx(2.0050, abs=1e-4)
    assert area("4") / area("14") == pytest.approx(10.16, abs=0.01)


@pytest.mark.parametrize("gauge", PRINTED_SAE_OHM_PER_FT)
def test_sae_resistance_agrees_with_the_service_manual_within_seven_percent(gauge: str) -> None:
    ours = resistance_ohm_per_m(size=ConductorSize(GaugeBasis.SAE, gauge)) * M_PER_FT

    # ideal copper of the least area: on the high side of the manual's cables up to 2 AWG, up to 5 % under it above, where
    # the manual prints two digits
    assert 0.95 <= ours / PRINTED_SAE_OHM_PER_FT[gauge] <= 1.07


def test_sae_gauges_are_five_to_thirteen_percent_smaller_than_awg() -> None:
    # against the least AWG area of the same source
    for row in load_table("sae_areas").rows:
        shrink = 1 - float(row["sae_least_cmil"]) / float(row["awg_least_cmil"])
        assert 0.02 <= shrink <= 0.13, row["gauge"]


def test_metric_rows_lie_in_the_window_of_flexible_cable() -> None:
    # ideal copper is 17.24 Ω·mm²/km; flexible cable up to 20
    for size in sizes(GaugeBasis.METRIC):
        assert 17.24 <= resistance_ohm_per_m(size=size) * 1000 * area_mm2(size) <= 20.0, size


# R(T) / R20 by the inferred zero of copper, 234.5 °C (FAA AC 43.13-1B p. 11-22); printed to four places elsewhere.
@pytest.mark.parametrize(
    ("temperature", "ratio"),
    [(20, 1), (25, 1.0197), (30, 1.0393), (50, 1.1179), (75, 1.2162), (105, 1.3341), (125, 1.4127)],
)
def test_resistance_ratio_at_temperature(temperature: float, ratio: float) -> None:
    assert resistance_ratio(temperature_c=temperature) == pytest.approx(ratio, abs=1.5e-4)


def test_cold_copper_resists_less() -> None:
    # (234.5 - 40) / 254.5
    assert resistance_ratio(temperature_c=-40) == pytest.approx(0.76424, abs=1e-5)


@given(st.floats(-60, 249), st.floats(0.1, 1))
def test_resistance_rises_with_temperature(temperature: float, step: float) -> None:
    assert resistance_ratio(temperature_c=temperature + step) > resistance_ratio(temperature_c=temperature)


@pytest.mark.parametrize("basis", GaugeBasis)
def test_sizes_run_from_small_to_large_and_resistance_falls(basis: GaugeBasis) -> None:
    areas = [area_mm2(size) for size in sizes(basis)]
    ohms = [resistance_ohm_per_m(size=size) for size in sizes(basis)]

    assert areas == sorted(areas)
    assert ohms == sorted(ohms, reverse=True)


def test_the_same_label_is_another_area_in_another_basis() -> None:
    assert area_mm2(ConductorSize(GaugeBasis.SAE, "10")) < area_mm2(ConductorSize(GaugeBasis.AWG, "10"))


def test_a_gauge_the_table_lacks_cannot_be_made() -> None:
    with pytest.raises(UnknownTableEntry, match="SAE gauge table has no '3'"):
        ConductorSize(GaugeBasis.SAE, "3")


def test_a_temperature_outside_the_range_is_refused() -> None:
    with pytest.raises(OutOfRange):
        resistance_ratio(temperature_c=float("nan"))


def test_next_larger_skips_what_is_not_on_the_shelf() -> None:
    assert next_larger(ConductorSize(GaugeBasis.SAE, "14")).gauge == "12"
    assert next_larger(ConductorSize(GaugeBasis.SAE, "14"), stocked={"16", "14", "8"}).gauge == "8"


def test_nothing_is_larger_than_the_largest() -> None:
    with pytest.raises(NoStandardSize, match="4/0 SAE"):
        next_larger(ConductorSize(GaugeBasis.SAE, "4/0"))


def test_smallest_of_area_takes_equal_as_enough() -> None:
    assert smallest_of_area(basis=GaugeBasis.METRIC, least_mm2=2.5).gauge == "2.5"
    assert smallest_of_area(basis=GaugeBasis.METRIC, least_mm2=2.51).gauge == "4"


def test_no_size_of_that_area_is_said() -> None:
    with pytest.raises(NoStandardSize, match="71 mm²"):
        smallest_of_area(basis=GaugeBasis.METRIC, least_mm2=71)


def test_a_size_prints_with_its_basis() -> None:
    assert [str(ConductorSize(basis, "4")) for basis in GaugeBasis] == ["4 SAE", "4 AWG", "4 mm²"]
