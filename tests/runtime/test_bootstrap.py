"""The environment `.venv`: made, stamped, entered, and what is said when that fails."""

from __future__ import annotations

import runpy
import subprocess
import sys
import time
from pathlib import Path

import pytest

from config import bootstrap
from config.embedded.plain_errors import PlainError
from tests.runtime.running import CHECKOUT


@pytest.fixture
def checkout(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A checkout with requirement files of its own and no environment yet."""
    monkeypatch.setattr(bootstrap, "CHECKOUT", tmp_path)
    monkeypatch.setattr(bootstrap, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(bootstrap, "LOCK", tmp_path / ".venv.lock")
    monkeypatch.setattr(bootstrap, "RUN_REQUIREMENTS", tmp_path / "requirements.txt")
    monkeypatch.setattr(bootstrap, "DEVELOPMENT_REQUIREMENTS", tmp_path / "requirements-dev.txt")
    (tmp_path / "requirements.txt").write_text("# nothing\n")
    (tmp_path / "requirements-dev.txt").write_text("# nothing more\n")
    return tmp_path


def pretend_environment(checkout: Path) -> None:
    """Lay out what a finished environment looks like, without making one."""
    (checkout / ".venv/bin").mkdir(parents=True)
    (checkout / ".venv/bin/python").symlink_to(sys.executable)
    (checkout / ".venv/lib/python3.11/site-packages/django").mkdir(parents=True)


def test_start_under_an_old_python_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 9, 2, "final", 0))

    with pytest.raises(SystemExit) as stopped:
        runpy.run_path(str(CHECKOUT / "manage.py"))

    assert str(stopped.value).startswith("Baywright needs Python 3.11 or later, and this is Python 3.9.")


def test_bootstrap_imports_nothing_but_the_standard_library() -> None:
    code = (
        "import sys; before = set(sys.modules); import config.entrance; "
        "new = {name.split('.')[0] for name in set(sys.modules) - before}; "
        "print(sorted(new - set(sys.stdlib_module_names) - {'config'}))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=CHECKOUT, capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"


def test_stamp_is_a_hash_of_the_requirement_file_alone(checkout: Path) -> None:
    pretend_environment(checkout)
    requirements = bootstrap.RUN_REQUIREMENTS
    bootstrap.stamp_of(requirements).write_text(bootstrap.digest(requirements))
    assert bootstrap.is_complete(requirements)

    requirements.write_text("# something else\n")

    assert not bootstrap.is_complete(requirements)


def test_environment_whose_python_moved_on_is_not_complete(checkout: Path) -> None:
    pretend_environment(checkout)
    bootstrap.stamp_of(bootstrap.RUN_REQUIREMENTS).write_text(bootstrap.digest(bootstrap.RUN_REQUIREMENTS))
    (checkout / ".venv/bin/python").unlink()
    (checkout / ".venv/bin/python").symlink_to("/nonexistent/python3.11")

    assert not bootstrap.is_complete(bootstrap.RUN_REQUIREMENTS)


def test_python_with_every_pinned_package_needs_no_environment(tmp_path: Path) -> None:
    has, lacks = tmp_path / "has.txt", tmp_path / "lacks.txt"
    has.write_text("pytest==" + pytest.__version__ + " \\\n    --hash=sha256:00\n    # via nothing\n")
    lacks.write_text("pytest==0.0.1\n")

    assert bootstrap.has_every_package(has)
    assert not bootstrap.has_every_package(lacks)


def test_start_inside_drops_what_turns_another_python_astray(checkout: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: dict[str, object] = {}
    monkeypatch.setattr(
        bootstrap.os, "execve", lambda *given: seen.update(zip(("path", "argv", "env"), given, strict=True))
    )
    monkeypatch.setenv("PYTHONHOME", "/elsewhere")
    monkeypatch.setenv("PYTHONPATH", "/elsewhere")
    monkeypatch.delenv(bootstrap.ENTRIES, raising=False)

    bootstrap.start_again(["manage.py", "demo", "--once"])

    environment = seen["env"]
    assert isinstance(environment, dict)
    assert seen["argv"] == [str(checkout / ".venv/bin/python"), str(checkout / "manage.py"), "demo", "--once"]
    assert not {"PYTHONHOME", "PYTHONPATH"}.intersection(environment)
    assert environment[bootstrap.ENTRIES] == "1"


def test_third_entry_stops_instead_of_going_round(checkout: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(bootstrap.ENTRIES, "2")

    with pytest.raises(PlainError, match="Remove that folder and start again"):
        bootstrap.start_again(["manage.py", "demo"])


@pytest.mark.slow
def test_half_made_environment_is_made_again_and_stamped_last(checkout: Path) -> None:
    (checkout / ".venv/bin").mkdir(parents=True)
    (checkout / ".venv/half-made").touch()

    bootstrap.install(bootstrap.DEVELOPMENT_REQUIREMENTS)

    assert not (checkout / ".venv/half-made").exists()
    for requirements in (bootstrap.RUN_REQUIREMENTS, bootstrap.DEVELOPMENT_REQUIREMENTS):
        assert bootstrap.stamp_of(requirements).read_text() == bootstrap.digest(requirements)


def test_failed_installation_leaves_no_stamp(checkout: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pretend_environment(checkout)
    stamp = bootstrap.stamp_of(bootstrap.RUN_REQUIREMENTS)
    stamp.write_text("of an older state")
    monkeypatch.setattr(bootstrap, "usable", lambda: True)

    def fail(requirements: Path) -> None:
        raise PlainError("no network")

    monkeypatch.setattr(bootstrap, "install_packages", fail)

    with pytest.raises(PlainError, match="no network"):
        bootstrap.install(bootstrap.RUN_REQUIREMENTS)

    assert not stamp.exists()


def test_second_start_waits_for_the_first_and_installs_nothing(
    checkout: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    pretend_environment(checkout)
    stamp, digest = bootstrap.stamp_of(bootstrap.RUN_REQUIREMENTS), bootstrap.digest(bootstrap.RUN_REQUIREMENTS)
    code = (
        "import fcntl, pathlib, sys, time; lock = open(sys.argv[1], 'w'); fcntl.flock(lock, fcntl.LOCK_EX); "
        "print('held', flush=True); time.sleep(0.6); pathlib.Path(sys.argv[2]).write_text(sys.argv[3])"
    )
    first = subprocess.Popen(
        [sys.executable, "-c", code, str(checkout / ".venv.lock"), str(stamp), digest], stdout=subprocess.PIPE
    )
    assert first.stdout is not None
    first.stdout.readline()
    monkeypatch.setattr(bootstrap, "install_packages", lambda requirements: pytest.fail("installed twice"))

    began = time.monotonic()
    bootstrap.install(bootstrap.RUN_REQUIREMENTS)

    assert time.monotonic() - began > 0.3
    assert "waiting for it" in capsys.readouterr().err
    first.communicate()


@pytest.mark.parametrize(
    ("output", "says"),
    [
        ("OSError: [Errno 28] No space left on device", "no room left on the disk"),
        ("blah\nERROR: No matching distribution found for numpy==9\n", "No matching distribution found for numpy==9"),
    ],
)
def test_failed_installation_is_explained(checkout: Path, output: str, says: str) -> None:
    assert says in str(bootstrap.explain_failure(output, "The Python packages could not be installed"))
