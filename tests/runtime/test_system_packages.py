"""What the distribution has to bring, and the one line to type."""

from __future__ import annotations

from pathlib import Path

import pytest

from config import system_packages
from config.embedded.plain_errors import PlainError
from config.system_packages import BROWSER, FONT_SUBSETS, NGSPICE, PANGO, SystemPackage, install_line
from config.testing.run import pytest_command, split_left_out

LOST = SystemPackage(purpose="nothing", present=lambda: False, debian="lost-deb", fedora="lost-rpm", alpine="lost-apk")


@pytest.mark.parametrize(
    ("os_release", "family"),
    [
        ('ID=debian\nVERSION_ID="12"\n', "debian"),
        ("ID=ubuntu\nID_LIKE=debian\n", "debian"),
        ('ID="rocky"\nID_LIKE="rhel centos fedora"\n', "fedora"),
        ("ID=alpine\n", "alpine"),
        ("", "debian"),
    ],
)
def test_distribution_family_is_read(tmp_path: Path, os_release: str, family: str) -> None:
    path = tmp_path / "os-release"
    path.write_text(os_release)

    assert system_packages.distribution_family(path) == family


@pytest.mark.parametrize(
    ("family", "line"),
    [
        ("debian", "sudo apt-get update && sudo apt-get install -y --no-install-recommends chromium ngspice"),
        ("fedora", "sudo dnf install -y chromium ngspice"),
        ("alpine", "sudo apk add chromium ngspice"),
    ],
)
def test_line_to_type_names_the_distributions_packages(monkeypatch: pytest.MonkeyPatch, family: str, line: str) -> None:
    monkeypatch.setattr(system_packages, "distribution_family", lambda: family)
    monkeypatch.setattr(system_packages.os, "geteuid", lambda: 1000)

    assert install_line([NGSPICE, BROWSER]) == line


def test_package_that_two_libraries_share_is_named_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(system_packages, "distribution_family", lambda: "fedora")

    assert install_line([PANGO, system_packages.PANGO_FONTS, FONT_SUBSETS]).endswith("install -y harfbuzz pango")


def test_user_gets_the_line_and_exit_status_3(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(system_packages.os, "geteuid", lambda: 1000)
    monkeypatch.setattr(system_packages, "distribution_family", lambda: "debian")

    with pytest.raises(PlainError, match="lost-deb") as stopped:
        system_packages.require([LOST], why="a thing")

    assert stopped.value.exit_status == 3


def test_root_installs_what_is_missing_and_only_that(monkeypatch: pytest.MonkeyPatch) -> None:
    installed: list[list[str]] = []
    there = SystemPackage(purpose="", present=lambda: True, debian="there", fedora="there", alpine="there")
    monkeypatch.setattr(system_packages.os, "geteuid", lambda: 0)
    monkeypatch.setattr(system_packages.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(system_packages, "install_as_root", lambda names: installed.append(names) or True)

    system_packages.require([LOST, there], why="things")

    assert installed == [["lost-deb"]]


def test_shared_library_is_looked_for_by_loading_it() -> None:
    assert system_packages.library("libc.so.6")()
    assert not system_packages.library("libno-such-thing.so.9")()


@pytest.mark.parametrize(
    "words",
    [["--without", "browser,ngspice", "-x"], ["--without=browser", "-x", "--without", "ngspice"]],
)
def test_without_is_taken_out_of_pytests_arguments(words: list[str]) -> None:
    assert split_left_out(words) == (["browser", "ngspice"], ["-x"])


@pytest.mark.parametrize("words", [["--without"], ["--without", "-x"], ["--without", "engine"]])
def test_without_something_unknown_is_refused(words: list[str]) -> None:
    with pytest.raises(PlainError, match="takes browser and ngspice"):
        split_left_out(words)


def test_two_processes_unless_the_caller_says_otherwise() -> None:
    assert "-n" in pytest_command(["-x"], left_out=[])
    assert pytest_command(["-n0"], left_out=[]).count("-n") == 0


def test_left_out_tests_are_deselected_by_marker() -> None:
    assert "not browser and not ngspice" in pytest_command([], left_out=["browser", "ngspice"])
