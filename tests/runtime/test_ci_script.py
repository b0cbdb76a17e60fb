"""The check that a change has to pass runs what the README tells people to run."""

from __future__ import annotations

import re
import subprocess

import pytest

from tests.runtime.running import CHECKOUT

README_TEST_COMMAND = "python3 manage.py test"
LINT_COMMAND = "python3 manage.py lint"


def lines_of(name: str) -> list[str]:
    return (CHECKOUT / name).read_text().splitlines()


def test_it_runs_exactly_the_readmes_test_command_and_the_lint() -> None:
    run = [line.split(" || ")[0].strip() for line in lines_of(".ci/run") if line.strip().startswith("python3 ")]

    assert README_TEST_COMMAND in lines_of("README.md")
    assert sorted(run) == sorted([README_TEST_COMMAND, LINT_COMMAND])
    assert run[-1] == README_TEST_COMMAND  # so that the test runner's closing line stands last


def test_every_python_command_of_the_readme_is_one_the_door_knows() -> None:
    from django.core.management import get_commands

    from config.entrance import command_for, run_django

    named = set(re.findall(r"^python3 manage\.py (\w+)", "\n".join(lines_of("README.md")), flags=re.MULTILINE))

    assert {"demo", "test"} <= named
    for name in named:
        assert command_for(name) is not run_django or name in get_commands(), name


@pytest.mark.parametrize("word", ["--without", "--without=browser", "tests/engineering"])
def test_it_leaves_nothing_out(word: str) -> None:
    done = subprocess.run(
        ["bash", ".ci/run", word], cwd=CHECKOUT, capture_output=True, text=True, timeout=20, check=False
    )

    assert done.returncode == 2
    assert done.stderr.startswith("ci: ")
    assert done.stdout == ""


@pytest.mark.parametrize(("lint", "tests", "status"), [(0, 0, 0), (1, 0, 1), (0, 1, 1), (0, 5, 1)])
def test_it_fails_when_either_fails(tmp_path, lint: int, tests: int, status: int) -> None:  # type: ignore[no-untyped-def]
    """With a door that answers as told: whether no test at all (pytest's 5) counts as a failure too."""
    (tmp_path / ".ci").mkdir()
    script = tmp_path / ".ci/run"
    script.write_text((CHECKOUT / ".ci/run").read_text())
    (tmp_path / "manage.py").write_text(f"import sys; sys.exit({{'lint': {lint}, 'test': {tests}}}[sys.argv[1]])")

    done = subprocess.run(["bash", str(script)], capture_output=True, timeout=20, check=False)

    assert done.returncode == status
