"""What a packet prints of a build's functions: the chart by control, and what the programmable devices hold."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from builds.documents.packet_context import PacketContext
from builds.documents.packet_input import LoadedFilePart
from builds.documents.sections.built import built_of
from builds.documents.sections.use import use_of
from builds.engineering.document import read_document
from builds.engineering.functions.form import schedule_digest
from builds.engineering.functions.language import parse_schedule
from tests.factories.packets import sample_packet_input

VAN = read_document((Path(__file__).parents[2] / "demo" / "2612-incident-van.json").read_bytes())
DIGEST = schedule_digest(parse_schedule(VAN.function_schedule))


def loaded(*, schedule_sha256: str = DIGEST, read_back: bool = True) -> LoadedFilePart:
    at = datetime(2026, 12, 7, 10, 0, tzinfo=UTC)
    return LoadedFilePart(
        serial="M10-4", device="Switching module", file_name="van.cfg", file_sha256="0" * 64, file_version="3", firmware="2.4",
        loaded_by="T. Rook", loaded_at=at, schedule_sha256=schedule_sha256, read_back_by="I. Crane" if read_back else "",
        read_back_at=at if read_back else None,
    )  # fmt: skip


def context(*files: LoadedFilePart) -> PacketContext:
    return PacketContext(input=replace(sample_packet_input(VAN), loaded_files=files), design=VAN)


def test_the_chart_says_of_each_control_what_it_does() -> None:
    use = use_of(context())

    incident = next(row for row in use.controls if (row.control, row.value) == ("mode", "incident"))
    assert "gate-lamps: steady" in incident.alone
    assert ("rear-reds flash slow sync van", "mode is incident") not in incident.also  # it does that by itself
    assert [row.by_hand for row in use.controls] == sorted((row.by_hand for row in use.controls), reverse=True)


def test_a_build_without_a_schedule_has_no_chart() -> None:
    bare = replace(VAN, function_schedule="")

    assert use_of(PacketContext(input=sample_packet_input(bare), design=bare)).controls == ()


def test_loaded_files_say_who_read_them_back_and_whether_they_are_older_than_the_functions() -> None:
    fresh, old = built_of(context(loaded(), loaded(schedule_sha256="1" * 64, read_back=False))).loaded

    assert (fresh.device, fresh.file, fresh.is_older) == ("Switching module M10-4", "van.cfg, version 3", False)
    assert fresh.read_back.startswith("I. Crane")
    assert old.is_older and old.read_back == ""
