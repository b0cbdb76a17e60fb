"""
A second battery behind an isolator of contacts or of diodes: what diodes take of its voltage and of what may flow into it.

In the sound build the auxiliary battery with its panel stands behind the isolator ISO; the loads of the main bus do not.
"""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessment import RunResult
from builds.engineering.design import AlternatorSpec, Design
from builds.engineering.document import canonical_text, read_document
from builds.engineering.electrical.energy.banks import Bank
from builds.engineering.electrical.energy.laws import LoadLaw
from builds.engineering.electrical.energy.moments import Circumstances, first_state
from builds.engineering.electrical.energy.posts import Supply
from builds.engineering.electrical.energy.stages import Post
from builds.engineering.errors import OutOfRange
from builds.engineering.explaining import Rows, explain
from builds.engineering.flows.solve import solve_conditions
from builds.engineering.vocabulary import BatteryKind, IsolatorKind
from tests.engineering.assess.designs import AUXILIARY, SOUND, changed
from tests.engineering.assess.plants_duty import day


def diodes(design: Design = SOUND, forward_v: float | None = None) -> Design:
    return changed(design, "node", "ISO", isolator=IsolatorKind.DIODE, forward_v=forward_v)


def equalising_a(design: Design) -> float:
    return explain(design, "battery-equalising:BAT2").result


def test_contacts_take_nothing_whatever_is_entered() -> None:
    assert assess(changed(SOUND, "node", "ISO", forward_v=0.9)) == assess(SOUND)


def test_a_default_stands_in_and_a_data_sheet_replaces_it() -> None:
    # the middle of 0.5 to 0.9 V
    assert equalising_a(diodes()) == equalising_a(diodes(forward_v=0.7))
    assert equalising_a(diodes(forward_v=0.5)) >= equalising_a(diodes())


def test_less_flows_into_an_empty_battery_through_diodes() -> None:
    """Weak sources aside the diode stands in the way like a higher voltage of the empty battery."""
    strong = changed(SOUND, "node", "ALT", alternator=replace(_alternator(), rated_a=1000.0))
    contacts_a, diodes_a = equalising_a(strong), equalising_a(diodes(strong))
    between = next(
        number.value
        for step in explain(strong, "battery-equalising:BAT2").steps
        for number in getattr(step, "numbers", ())
        if number.symbol == "R"
    )

    assert contacts_a - diodes_a == pytest.approx(700.0 / between, rel=1e-6)  # 0.7 V over the same milliohms


def _alternator() -> AlternatorSpec:
    return next(node.alternator for node in SOUND.nodes if node.alternator is not None)


def test_what_is_charged_through_diodes_lacks_their_voltage() -> None:
    full_v, empty_v = (
        {load.key: load.voltage_v for load in solve_conditions(design)["driving"].loads()}
        for design in (SOUND, diodes())
    )
    circuits = {load.key: load.circuit for load in SOUND.loads}
    own = {number.number for number in SOUND.circuits if number.panel in _fed_by_aux()}
    for key, volts in full_v.items():
        lost_v = volts - empty_v[key]
        if circuits[key] in own:
            assert 0.6 < lost_v < 0.8, key
        else:
            assert abs(lost_v) < 0.05, key


def _fed_by_aux() -> set[str]:
    met, more = {"DISC2"}, True
    while more:
        found = {run.to_node for run in SOUND.runs if run.from_node in met} - met
        met, more = met | found, bool(found)
    return met


def test_a_battery_behind_diodes_is_charged_to_less() -> None:
    contacts = assess(day(SOUND, ("driving", 60), start_ratio=0.5)).profiles[0]
    shut = assess(day(diodes(forward_v=1.9), ("driving", 60), start_ratio=0.5)).profiles[0]

    ends = [next(bank.end_ratio for bank in one.batteries if bank.key == "BAT2") for one in (contacts, shut)]
    assert ends[0] > ends[1]


def test_a_battery_behind_a_diode_gives_nothing_back() -> None:
    """A full battery behind a diode beside an empty one that carries 50 A: by contacts it would give most of it."""
    banks = tuple(
        Bank(key=key, capacity_ah=100, rated_hours=20, peukert_exponent=1.1, internal_ohm=0.005, full_rest_v=12.8, usable_ratio=0.5)
        for key in ("main", "aux")
    )  # fmt: skip

    def aux_a(forward_v: float, held_v: float) -> float:
        post = Post(banks=(0, 1), supplies=(Supply(held_v, 40.0),), forward_v=(0.0, forward_v))
        now = Circumstances(banks, (post,), (LoadLaw(50.0),))
        return now.moment(first_state(banks, (0.2, 1.0))).bank_a[1]

    assert aux_a(0.0, 12.0) > 10.0
    assert aux_a(0.7, 12.0) == 0.0


def test_what_is_held_and_what_is_stepped_agree_behind_a_diode() -> None:
    """14 V less 0.7 V over 12.3 V at half and 5 mΩ would send 200 A; it takes the 20 A that it accepts."""
    bank = Bank(key="b", capacity_ah=100, rated_hours=20, peukert_exponent=1.1, internal_ohm=0.005, full_rest_v=12.8, usable_ratio=0.5)  # fmt: skip
    main = replace(bank, key="m")
    post = Post(banks=(0, 1), supplies=(Supply(14.0, 500.0),), forward_v=(0.0, 0.7))
    now = Circumstances((main, bank), (post,), (LoadLaw(50.0),))
    state = first_state((main, bank), (0.5, 0.5))

    assert now.moment(state).bank_a[1] == pytest.approx(-20.0)
    assert now.moment(state).bank_v[1] == pytest.approx(14.0 - 0.7)
    assert now.derivative(state)[7] == pytest.approx(20.0)  # what the second one takes


def test_too_little_charge_behind_diodes_is_said_and_enough_is_not() -> None:
    poor = [item for item in assess(diodes(forward_v=1.2)).findings if item.id == "diode-charge-poor"]
    ample = [item for item in assess(diodes(forward_v=0.1)).findings if item.id == "diode-charge-poor"]
    by_contacts = [item for item in assess(SOUND).findings if item.id == "diode-charge-poor"]

    assert [item.subject for item in poor] == ["node:ISO"]
    assert not ample
    assert not by_contacts


def test_lithium_asks_for_its_own_full_voltage() -> None:
    lithium = changed(
        SOUND, "node", "BAT2", battery=replace(AUXILIARY, kind=BatteryKind.LITHIUM_IRON_PHOSPHATE, open_circuit_v=13.6)
    )
    found = [item for item in assess(diodes(lithium, 0.9)).findings if item.id == "diode-charge-poor"]

    assert [number.value for number in found[0].numbers if number.name == "needed"] == [13.6]


def test_diodes_survive_a_document_and_a_wild_voltage_is_refused() -> None:
    assert read_document(canonical_text(diodes(forward_v=0.6))) == diodes(forward_v=0.6)
    assert '"isolator":"relay"' not in canonical_text(SOUND).replace(" ", "")
    with pytest.raises(OutOfRange):
        diodes(forward_v=4.0)


def run_of(design: Design, key: str) -> RunResult:
    return next(item for item in assess(design).runs if item.key == key)


def test_what_charges_the_second_battery_counts_on_the_cables_between() -> None:
    """0.2 of 100 Ah, or what its data sheet says: 20 and 40 A beside the loads on the link, out and back."""
    twice = changed(SOUND, "node", "BAT2", battery=replace(AUXILIARY, acceptance_per_h=0.4))

    for key in ("R4", "R3", "R1"):
        assert run_of(twice, key).mean_a - run_of(SOUND, key).mean_a == pytest.approx(20.0), key
    assert run_of(twice, "R2").mean_a == pytest.approx(run_of(SOUND, "R2").mean_a)  # leads away from the link


def test_no_more_charges_it_than_the_sources_leave() -> None:
    """An alternator that gives 10 A at speed and at idle has nothing left beside the loads."""
    weak = changed(
        SOUND, "node", "ALT", alternator=replace(_alternator(), rated_a=10.0, idle_ratio=1.0, speed_ratio=1.0)
    )
    most = changed(weak, "node", "BAT2", battery=replace(AUXILIARY, acceptance_per_h=0.4))

    assert run_of(most, "R4").mean_a == pytest.approx(run_of(weak, "R4").mean_a)
    assert run_of(most, "R4").mean_a < run_of(SOUND, "R4").mean_a


def test_a_link_too_thin_for_loads_and_charge_is_found() -> None:
    """16 gauge bears the loads behind it alone; with the charge beside them it is too thin."""
    slow = replace(AUXILIARY, acceptance_per_h=0.01)
    thin = changed(SOUND, "run", "R3", gauge="16")

    def conductor_ids(design: Design) -> set[str]:
        return {item.id for item in assess(design).findings if item.subject == "run:R3" and "conductor" in item.id}

    assert "conductor-below-load" in conductor_ids(thin)
    assert "conductor-below-load" not in conductor_ids(changed(thin, "node", "BAT2", battery=slow))


def test_the_first_moment_counts_in_the_peak_and_explains_itself() -> None:
    assert run_of(SOUND, "R4").peak_a == pytest.approx(equalising_a(SOUND))
    assert explain(SOUND, "run-peak:R4").result == pytest.approx(run_of(SOUND, "R4").peak_a)


def test_workings_of_a_link_add_up_to_its_current() -> None:
    for key in ("R1", "R3", "R4"):
        working = explain(SOUND, f"run-continuous:{key}")
        [rows] = [step for step in working.steps if isinstance(step, Rows)]
        assert rows.total == pytest.approx(run_of(SOUND, key).continuous_a)
        assert any("charging" in row.words for row in rows.rows)


@pytest.mark.parametrize("first", ["BAT1", "BAT2"])
def test_an_alternator_on_the_common_post_loses_the_diodes_to_either_battery(first: str) -> None:
    """Whichever battery is drawn first: 0.7 V less at the loads of both, at the same current."""
    common = changed(SOUND, "run", "R7", from_node="ISO")
    ordered = replace(common, nodes=tuple(sorted(common.nodes, key=lambda node: node.key != first)))

    contacts, lossy = (
        {circuit.number: circuit.load_v for circuit in assess(design).circuits} for design in (ordered, diodes(ordered))
    )

    for number in ("101", "201"):
        assert contacts[number] - lossy[number] == pytest.approx(0.7, abs=0.05)


@pytest.mark.parametrize("open_circuit_v", [14.8, 16.0])
def test_a_second_battery_that_nothing_flows_into_is_assessed(open_circuit_v: float) -> None:
    full = changed(SOUND, "node", "BAT2", battery=replace(AUXILIARY, open_circuit_v=open_circuit_v, usable_ratio=0.05))

    assert not {found.id for found in assess(full).findings} & {"equalising-over-switch", "equalising-opens-device"}
