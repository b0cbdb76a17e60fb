"""The three commands of the build document: what they print, how they end, and what they need."""

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from builds.engineering.document import canonical_text, read_document
from builds.management.assessment_report import ExitStatus, assess_file
from builds.models import Build, Role
from tests.engineering.document.samples import small_document, small_text
from tests.factories.builds import make_person

ROOT = Path(__file__).parents[2]
TRUCK = ROOT / "demo" / "2614-crew-cab-truck.json"
VAN = ROOT / "demo" / "2612-incident-van.json"


def assessed(name: str) -> tuple[ExitStatus, str, str]:
    out, err = io.StringIO(), io.StringIO()
    status = assess_file(name, out=out, err=err)
    return status, out.getvalue(), err.getvalue()


@pytest.mark.parametrize(("path", "status"), [(VAN, ExitStatus.NOTHING_BLOCKING), (TRUCK, ExitStatus.BLOCKING)])
def test_assess_ends_by_its_blocking_findings(path: Path, status: ExitStatus) -> None:
    ended, out, err = assessed(str(path))

    assert ended is status
    assert err == ""
    assert len(json.loads(out)["circuits"]) == len(read_document(path.read_bytes()).circuits)


def test_assess_prints_every_field_by_its_own_name_in_one_order() -> None:
    _, first, _ = assessed(str(TRUCK))
    _, second, _ = assessed(str(TRUCK))

    assert first == second
    values = json.loads(first)
    assert list(values)[:3] == ["engine_version", "tables", "conditions"]
    assert values["findings"][0]["id"] == "drop-over-limit"
    assert values["findings"][0]["fix"]["changes"] == [{"subject": "circuit:203", "field": "gauge", "value": "14"}]
    assert isinstance(values["price"]["total"], float)


def test_assess_names_each_fault_on_a_line_of_its_own(tmp_path: Path) -> None:
    document = small_document()
    document["build"]["circuits"][0] |= {"length_m": 4.12345, "panel": "P9"}
    (tmp_path / "bad.json").write_text(json.dumps(document), encoding="utf-8")

    status, out, err = assessed(str(tmp_path / "bad.json"))

    assert status is ExitStatus.NOT_A_DOCUMENT
    assert out == ""
    assert err.splitlines() == [
        "/build/circuits/0/length_m: 4.12345 has more than 3 decimals",
        '/build/circuits/0/panel: there is no node "P9" in this document',
    ]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "there is no such file"),
        (b"", "document: the text is empty"),
        (b"\x7fELF\x02\x01\x01\x00\xff\xfe", "document: the file is not UTF-8 text"),
        (b'{"format": "baywright-build"', "document: the text stops being JSON at line 1, column 29"),
    ],
)
def test_assess_says_in_a_sentence_what_is_no_document(tmp_path: Path, content: bytes | None, said: str) -> None:
    path = tmp_path / "it.json"
    if content is not None:
        path.write_bytes(content)

    status, _, err = assessed(str(path))

    assert status is ExitStatus.NOT_A_DOCUMENT
    assert said in err
    assert len(err.splitlines()) == 1


def test_assess_of_a_folder_says_so(tmp_path: Path) -> None:
    assert assessed(str(tmp_path)) == (ExitStatus.NOT_A_DOCUMENT, "", f"{tmp_path}: this is a folder; name a file\n")


def test_assess_reads_no_more_of_an_endless_file_than_shows_that_it_is_too_large() -> None:
    status, _, err = assessed("/dev/zero")

    assert status is ExitStatus.NOT_A_DOCUMENT
    assert "larger than 5 MB" in err


def test_assess_through_the_one_door_needs_no_database_and_no_settings(tmp_path: Path) -> None:
    """Addresses that lead nowhere, and a data folder that cannot be made: neither is ever looked at."""
    (tmp_path / "a-file").write_text("", encoding="utf-8")
    nowhere = {
        "DATABASE_URL": "no address at all",
        "BROKER_URL": "no address at all",
        "BAYWRIGHT_DATA": str(tmp_path / "a-file" / "data"),
    }
    command = [sys.executable, str(ROOT / "manage.py"), "assess", str(TRUCK)]
    done = subprocess.run(command, capture_output=True, env=os.environ | nowhere, check=False, timeout=120)

    assert done.returncode == ExitStatus.BLOCKING
    assert json.loads(done.stdout)["engine_version"]
    assert done.stderr == b""


def test_assess_imports_no_framework() -> None:
    code = (
        "import sys; from builds.management.assessment_report import assess_file;"
        f"assess_file({str(VAN)!r}, out=open({os.devnull!r}, 'w'));"
        "print([name for name in ('django', 'celery', 'psycopg', 'weasyprint') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, cwd=ROOT, check=True, timeout=120)

    assert done.stdout.decode().strip() == "[]"


@pytest.mark.django_db
def test_importbuild_then_exportbuild_gives_the_document_back(tmp_path: Path) -> None:
    make_person(Role.MANAGER)
    out = io.StringIO()

    call_command("importbuild", str(TRUCK), stdout=io.StringIO())
    call_command("exportbuild", "2614", stdout=out)

    assert out.getvalue() == canonical_text(read_document(TRUCK.read_bytes())) + "\n"


@pytest.mark.django_db
def test_importbuild_opens_it_under_another_number_and_says_what_it_found(tmp_path: Path) -> None:
    manager = make_person(Role.MANAGER)
    (tmp_path / "lamp.json").write_text(small_text(), encoding="utf-8")
    out = io.StringIO()

    call_command("importbuild", str(tmp_path / "lamp.json"), "--number", "A-1", stdout=out)

    assert Build.objects.get(number="A-1").opened_by == manager
    assert out.getvalue().startswith("Build A-1, One work lamp: opened. Findings: blocking ")


@pytest.mark.django_db
def test_importbuild_tells_each_fault_and_writes_nothing(tmp_path: Path) -> None:
    make_person(Role.MANAGER)
    (tmp_path / "bad.json").write_text(small_text().replace('"P1", "position"', '"P9", "position"'), encoding="utf-8")

    with pytest.raises(CommandError) as caught:
        call_command("importbuild", str(tmp_path / "bad.json"))

    assert str(caught.value) == '/build/circuits/0/panel: there is no node "P9" in this document'
    assert caught.value.returncode == 2
    assert not Build.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["importbuild", "/nowhere/at/all.json"], "/nowhere/at/all.json: there is no such file"),
        (["importbuild", str(VAN), "--by", "nobody"], "Nobody signs in as nobody."),
        (["importbuild", str(VAN)], "There is no manager in whose name to open it; say --by SIGN-IN."),
        (["exportbuild", "9999"], "There is no build 9999."),
    ],
)
def test_what_is_not_there_is_said_in_a_sentence(words: list[str], said: str) -> None:
    with pytest.raises(CommandError) as caught:
        call_command(*words)

    assert str(caught.value) == said


@pytest.mark.django_db
def test_a_number_in_use_is_said_in_a_sentence() -> None:
    make_person(Role.MANAGER)
    call_command("importbuild", str(VAN), stdout=io.StringIO())

    with pytest.raises(CommandError, match="There is a build 2612 already"):
        call_command("importbuild", str(VAN))
