"""A design with its function schedule: what the rules light is what a condition takes, and findings say what does not fit."""

from dataclasses import replace

from builds.engineering.assess import assess
from builds.engineering.catalogue import CATALOGUE
from builds.engineering.design import Design, InputSetting, Load, LoadUse, OperatingCondition, PartsBillLine
from builds.engineering.functions.catalogue import FUNCTION_CATALOGUE
from builds.engineering.functions.coupling import coupled
from builds.engineering.functions.form import schedule_digest
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.loaded_files import LoadedFile
from builds.engineering.vocabulary import LoadModel, SourceState
from tests.engineering.document.samples import small_design

TEXT = """
input mode: selector off, respond, block
channel bar: lamp; zone cab; load L1
channel work: lamp; zone cab; load L2
pattern beat: 300 ms on, 500 ms off
rule go (priority 1): bar flash beat when mode is respond; if lost, does not apply
rule stand (priority 1): bar, work steady at 40 % when mode is block; if lost, does not apply
claim dark: whenever mode is off then bar is off
"""


def lamp(key: str, current_a: float, **more: object) -> Load:
    given = {"circuit": "101", "name": key, "zone": "cab", "model": LoadModel.CONSTANT_CURRENT, "at_v": 12.8} | more
    return Load(key=key, current_a=current_a, **given)  # type: ignore[arg-type]


def condition(key: str, *uses: LoadUse, **settings: str) -> OperatingCondition:
    return OperatingCondition(
        key=key,
        name=key,
        source_state=SourceState.ENGINE_OFF,
        source_low_v=12.0,
        source_high_v=12.8,
        uses=uses,
        input_settings=tuple(InputSetting(input=name, value=value) for name, value in settings.items()),
    )


def design_with(*conditions: OperatingCondition, text: str = TEXT, **loads: object) -> Design:
    made = (lamp("L1", 2.0, **loads), lamp("L2", 4.0), lamp("radio", 1.0))
    return replace(small_design(), loads=made, conditions=conditions, function_schedule=text)


def found(design: Design, files: tuple[LoadedFile, ...] | None = None) -> dict[str, str]:
    bare = tuple(replace(condition, input_settings=()) for condition in design.conditions)
    before = {(one.id, one.subject) for one in assess(replace(design, function_schedule="", conditions=bare)).findings}
    return {one.id: one.message for one in assess(design, files).findings if (one.id, one.subject) not in before}


def test_a_condition_with_settings_takes_what_the_rules_light_and_what_no_rule_drives() -> None:
    radio, bar = LoadUse(load="radio"), LoadUse(load="L1")

    quick, scene = coupled(
        design_with(condition("quick", radio, mode="respond"), condition("scene", bar, mode="block"))
    ).conditions

    assert quick.uses == (radio, LoadUse(load="L1", duty_ratio=0.375))
    assert scene.uses == (LoadUse(load="L1", duty_ratio=0.4), LoadUse(load="L2", duty_ratio=0.4))


def test_changing_a_rule_moves_the_condition_s_figures() -> None:
    at_40 = design_with(condition("scene", mode="block"))
    at_80 = replace(at_40, function_schedule=TEXT.replace("40 %", "80 %"))

    before, after = (assess(one).conditions[0] for one in (at_40, at_80))

    assert (before.mean_a, after.mean_a) == (0.4 * 6.0, 0.8 * 6.0)
    assert before.peak_a == after.peak_a == 6.0


def test_a_condition_without_settings_stays_as_it_was_typed() -> None:
    design = design_with(condition("by hand", LoadUse(load="L2", duty_ratio=0.5)))

    assert coupled(design) is design
    assert assess(design).conditions[0].mean_a == 2.0


def test_settings_that_the_schedule_does_not_know_are_a_finding_that_says_what_it_knows() -> None:
    messages = found(design_with(condition("scene", mode="chase"), condition("other", mood="block")))

    assert messages["condition-setting-unknown"] in (
        "“scene” sets mode chase, which the function schedule does not know; "
        "expected mode to be one of off, respond, block, lost.",
        "“other” sets mood block, which the function schedule does not know; expected one of mode.",
    )


def test_loads_and_zones_that_the_design_lacks_are_findings() -> None:
    text = TEXT.replace("load L2", "load L9").replace("channel bar: lamp; zone cab", "channel bar: lamp; zone roof")

    messages = found(design_with(condition("scene", LoadUse(load="L1"), mode="off"), text=text))

    assert messages["channel-load-missing"] == "work feeds load L9, which the design does not have."
    assert messages["channel-zone-missing"] == "bar stands in zone roof, which the platform does not have."
    assert messages["condition-load-dark"] == "“scene” names L1, which is dark there by the rules."


def test_channels_that_take_more_than_their_load_are_a_finding() -> None:
    larger = TEXT.replace("load L2", "load L2; 99 A")

    assert found(design_with(text=larger))["load-under-channels"].startswith("Channels work take 99 A together")
    assert "load-under-channels" not in found(design_with())


def test_a_load_sized_as_never_steady_that_a_rule_holds_steady_is_a_finding() -> None:
    messages = found(design_with(can_be_steady=False, duty_ratio=0.375))

    assert messages["load-held-steady"] == "Load L1 is sized as never steady, and rule stand holds bar steady."
    assert "load-held-steady" not in found(design_with(can_be_steady=False, duty_ratio=0.5))  # 40 % warms it less


def test_a_refuted_claim_and_a_text_that_cannot_be_read_block() -> None:
    refuted = design_with(text=TEXT + "claim bright: never bar is steady and work is steady\n")

    assert found(refuted)["claim-refuted"].startswith("Claim bright does not hold: from rest turn mode to block")
    assert found(design_with(text="rool x")) == {
        "schedule-fault": 'Line 1, column 1: No statement begins with “rool”; expected “input”, “channel”, “head”, '
        '“pattern”, “set”, “rule”, “given” or “claim”.'
    }  # fmt: skip


def test_a_file_written_from_an_older_schedule_is_a_finding_until_it_is_loaded_anew() -> None:
    def loaded(text: str, *, read_back_by: str = "Tess") -> LoadedFile:
        digest = schedule_digest(parse_schedule(text))
        return LoadedFile(
            serial="LC-7", device="lamp controller", file_name="van.cfg", file_sha256="0" * 64, file_version="3",
            firmware="2.1", loaded_by="Tess", loaded_at="2026-05-04", schedule_sha256=digest, read_back_by=read_back_by,
        )  # fmt: skip

    design = design_with()

    assert found(design, (loaded(TEXT),)) == {}
    older = found(design, (loaded(TEXT.replace("40 %", "50 %"), read_back_by=""),))
    assert set(older) == {"file-older-than-schedule", "file-not-read-back"}


def test_a_programmable_device_that_nobody_loaded_is_a_finding() -> None:
    digest = schedule_digest(parse_schedule(TEXT))

    def loaded(serial: str) -> LoadedFile:
        return LoadedFile(
            serial=serial, device="lamp controller", part_line="9", file_name="van.cfg", file_sha256="0" * 64, file_version="3",
            firmware="2.1", loaded_by="Tess", loaded_at="2026-05-04", schedule_sha256=digest, read_back_by="Una",
        )  # fmt: skip

    line = PartsBillLine(key="9", part_number="LC", description="Lamp controller", quantity=2, programmable=True)
    design = replace(design_with(), parts=(line,))

    assert found(design) == {}  # a document alone knows nothing of what is loaded
    assert found(design, ()) == {"file-not-loaded": "2 of 2 Lamp controller have no file loaded."}
    assert found(design, (loaded("LC-7"),)) == {"file-not-loaded": "1 of 2 Lamp controller has no file loaded."}
    assert found(design, (loaded("LC-7"), loaded("LC-8"))) == {}
    assert found(replace(design, parts=(replace(line, removed=True),)), ()) == {}
    assert found(replace(design, function_schedule="", conditions=()), ()) == {}


def test_the_ids_of_function_findings_are_in_the_one_catalogue_and_belong_to_nothing_else() -> None:
    own = {kind.id for kind in CATALOGUE.values() if FUNCTION_CATALOGUE.get(kind.id) is kind}

    assert own == set(FUNCTION_CATALOGUE)
    assert "drop-over-limit" in CATALOGUE and "low-side-switched" not in FUNCTION_CATALOGUE
