"""
What a battery's own data sheet changes: how fast it takes charge, not in the cold, where it switches itself off, what it loses.

The auxiliary battery of the sound build holds 100 Ah; half charged it lacks 50 Ah. The watch takes some 7 A of it.
"""

from dataclasses import replace
from typing import Any

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessing.settings import engine_runs, set_volts
from builds.engineering.assessment import ProfileResult
from builds.engineering.design import BatterySpec, Design
from builds.engineering.document import canonical_text, read_document
from builds.engineering.electrical.energy.banks import rest_at_v
from builds.engineering.errors import OutOfRange
from builds.engineering.explaining import explain
from builds.engineering.vocabulary import BatteryKind
from tests.engineering.assess.designs import AUXILIARY, SOUND, changed
from tests.engineering.assess.plants_duty import day


def with_battery(design: Design, **figures: Any) -> Design:
    return changed(design, "node", "BAT2", battery=replace(AUXILIARY, **figures))


def profile(design: Design) -> ProfileResult:
    [result] = assess(design).profiles
    return result


def end_ratio(design: Design) -> float:
    return next(bank.end_ratio for bank in profile(design).batteries if bank.key == "BAT2")


def driven(**figures: float) -> Design:
    """An hour of driving that begins with every battery at half, the auxiliary one with its own figures."""
    cold = figures.pop("battery_c", 25.0)
    return day(with_battery(SOUND, **figures), ("driving", 60), start_ratio=0.5, battery_c=cold)


def test_a_battery_takes_as_much_as_its_data_sheet_says() -> None:
    # 0.2 and 0.1 of 100 Ah in an hour, from 50 Ah that are missing: 70 and 60 are there then, 95 % of what it took
    assert end_ratio(driven()) == pytest.approx(0.7, abs=0.01)
    assert end_ratio(driven(acceptance_per_h=0.1)) == pytest.approx(0.6, abs=0.01)


def test_below_its_least_temperature_it_takes_nothing_and_above_it_does() -> None:
    assert end_ratio(driven(least_charge_c=0.0, battery_c=-5.0)) <= 0.5
    assert end_ratio(driven(least_charge_c=-10.0, battery_c=-5.0)) > 0.6
    assert end_ratio(driven(least_charge_c=0.0)) == pytest.approx(end_ratio(driven()))


def test_the_cold_is_no_finding_where_nothing_charges() -> None:
    still = day(with_battery(SOUND, least_charge_c=0.0), ("watch", 30), battery_c=-5.0)

    assert "battery-too-cold-to-charge" not in {finding.id for finding in assess(still).findings}


def test_a_battery_that_switches_itself_off_serves_nothing_after_it() -> None:
    whole = profile(day(SOUND, ("watch", 300)))
    cut = profile(day(with_battery(SOUND, cut_off_v=12.5), ("watch", 300)))  # reached with 74 % left

    assert cut.load_ah < 0.9 * whole.load_ah
    end = next(bank.end_ratio for bank in cut.batteries if bank.key == "BAT2")
    assert end > next(bank.end_ratio for bank in whole.batteries if bank.key == "BAT2")
    assert abs(cut.difference_ah) < 1e-6


def test_a_cut_off_that_is_not_reached_changes_nothing() -> None:
    assert profile(day(with_battery(SOUND, cut_off_v=10.0), ("watch", 60))) == profile(day(SOUND, ("watch", 60)))


def test_days_of_standing_count_what_the_battery_loses_by_itself() -> None:
    # 40 % of 100 Ah over 24 × 0.010 A and 0.5 % of 100 Ah a day: 40 / 0.74 = 54.05 d
    design = with_battery(SOUND, self_discharge_per_day_ratio=0.005)

    assert assess(design).energy.key_off_days == pytest.approx(40 / 0.74)
    assert explain(design, "key-off-days").result == pytest.approx(40 / 0.74)


@pytest.mark.parametrize(
    ("name", "value"),
    [("acceptance_per_h", 0.0), ("least_charge_c", 90.0), ("cut_off_v", 0.0), ("self_discharge_per_day_ratio", 0.2)],
)
def test_a_figure_out_of_range_is_named(name: str, value: float) -> None:
    with pytest.raises(OutOfRange, match=name):
        BatterySpec(
            capacity_ah=100.0, rated_hours=20.0, peukert_exponent=1.0, internal_mohm=5.0, open_circuit_v=12.8,
            usable_ratio=0.5, **{name: value},
        )  # fmt: skip


def test_each_kind_rests_at_voltages_of_its_own() -> None:
    """AGM within the bands of a maker's service publication: 12.6 to 12.8 over three quarters, 12.3 to 12.6 over half."""
    for ratio, least_v, most_v in ((0.9, 12.6, 12.8), (0.6, 12.3, 12.6), (0.3, 12.0, 12.3)):
        agm_v = rest_at_v(full_rest_v=12.8, charge_ratio=ratio, kind=BatteryKind.AGM)
        assert least_v <= agm_v <= most_v
        assert agm_v == rest_at_v(full_rest_v=12.8, charge_ratio=ratio)
    # flooded at half: 12.24 V of 12.65 V, from memory
    assert rest_at_v(full_rest_v=12.65, charge_ratio=0.5, kind=BatteryKind.FLOODED) == pytest.approx(12.24)


def test_lithium_stays_flat_where_lead_falls() -> None:
    """From 90 to 30 % its four cells lose 0.3 V of 13.6 V, from memory; lead loses 0.66 V of 12.8 V."""

    def fall_v(kind: BatteryKind, full_v: float) -> float:
        return rest_at_v(full_rest_v=full_v, charge_ratio=0.9, kind=kind) - rest_at_v(
            full_rest_v=full_v, charge_ratio=0.3, kind=kind
        )

    assert fall_v(BatteryKind.LITHIUM_IRON_PHOSPHATE, 13.6) == pytest.approx(0.3)
    assert fall_v(BatteryKind.AGM, 12.8) == pytest.approx(0.66)


def test_a_lithium_battery_reaches_a_voltage_later_than_lead_of_the_same_size() -> None:
    """The watch takes some 7 A of 100 Ah: five hours leave lead at 12.4 V, lithium where it is still flat."""
    lead = profile(day(SOUND, ("watch", 300)))
    lithium = profile(
        day(
            with_battery(
                SOUND, kind=BatteryKind.LITHIUM_IRON_PHOSPHATE, open_circuit_v=13.6, peukert_exponent=1.05, usable_ratio=0.9
            ),
            ("watch", 300),
        )
    )  # fmt: skip

    lead_v, lithium_v = (
        next(bank.lowest_v for bank in result.batteries if bank.key == "BAT2") for result in (lead, lithium)
    )
    assert lead_v < 12.6
    assert lithium_v > 12.9


def test_a_lithium_battery_uncharged_while_the_engine_runs_stands_on_its_own_curve() -> None:
    spec = replace(AUXILIARY, kind=BatteryKind.LITHIUM_IRON_PHOSPHATE, open_circuit_v=13.6, usable_ratio=0.8)
    node = next(node for node in SOUND.nodes if node.key == "BAT2")
    running = next(one for one in SOUND.conditions if engine_runs(one.source_state))

    assert set_volts(running, replace(node, battery=spec)) == (pytest.approx(12.9), 13.6)


def test_a_document_without_a_kind_reads_as_lead_and_keeps_its_text() -> None:
    assert '"kind":"lead"' not in canonical_text(SOUND).replace(" ", "")
    lithium = with_battery(SOUND, kind=BatteryKind.LITHIUM_IRON_PHOSPHATE)
    assert read_document(canonical_text(lithium)) == lithium
    assert read_document(canonical_text(SOUND)) == SOUND
