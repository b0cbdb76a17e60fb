"""
`python3 manage.py test`: the whole suite on a real database and a real broker.

Everything after `test` goes to pytest, but for `--without browser,ngspice`, which leaves out what
needs those packages of the distribution and says so in the last line.
"""

from __future__ import annotations

import os
import subprocess
import sys

from config import system_packages
from config.data_folder import CHECKOUT
from config.embedded.plain_errors import PlainError
from config.system_packages import SystemPackage

OPTION = "--without"
PROCESSES = "2"


def run(words: list[str]) -> int:
    """Run the tests and return pytest's exit status; does not return where nothing is left out."""
    left_out, rest = split_left_out(words)
    system_packages.require(needed_packages(words), why="programs and libraries that the tests use")
    command = pytest_command(rest, left_out=left_out)
    os.chdir(CHECKOUT)
    if not left_out:
        sys.stdout.flush()
        os.execv(command[0], command)
    status = subprocess.run(command, check=False).returncode
    print(f"Left out, as asked: every test that needs {' or '.join(left_out)}.")
    return status


def needed_packages(words: list[str]) -> list[SystemPackage]:
    """Return what the tests need of the distribution, less what `--without` leaves out."""
    left_out, _ = split_left_out(words)
    tools = [one for name, packages in system_packages.FOR_TESTS.items() if name not in left_out for one in packages]
    return [*system_packages.FOR_THE_PACKET, *tools]


def split_left_out(words: list[str]) -> tuple[list[str], list[str]]:
    """Return what `--without` names, and the other words."""
    left_out: list[str] = []
    rest: list[str] = []
    waiting = iter(words)
    for word in waiting:
        if word == OPTION or word.startswith(f"{OPTION}="):
            value = word.partition("=")[2] or next(waiting, "")
            left_out += read_left_out(value)
        else:
            rest.append(word)
    return left_out, rest


def read_left_out(value: str) -> list[str]:
    """Return the names in `browser,ngspice`."""
    names = [name.strip() for name in value.split(",") if name.strip()]
    unknown = [name for name in names if name not in system_packages.FOR_TESTS]
    if unknown or not names:
        raise PlainError(
            f"{OPTION} takes {' and '.join(system_packages.FOR_TESTS)}, separated by a comma; "
            f"“{value}” is something else.",
            exit_status=2,
        )
    return names


def pytest_command(words: list[str], *, left_out: list[str]) -> list[str]:
    """Return the command line of pytest: two processes unless the caller says otherwise."""
    command = [sys.executable, "-m", "pytest"]
    if not any(word.startswith(("-n", "--numprocesses", "--pdb")) for word in words):
        command += ["-n", PROCESSES, "--dist", "loadfile", "--no-loadscope-reorder"]  # slow files are collected first
    if left_out:
        command += ["-m", " and ".join(f"not {name}" for name in left_out)]
    return command + words
