"""`python3 manage.py lint`: format, style, types, layers, migrations, generated pages. Changes nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass

from config.data_folder import CHECKOUT


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One look at the code, and what to type when it finds something."""

    name: str
    arguments: tuple[str, ...]
    remedy: str


CHECKS = (
    Check(
        name="format",
        arguments=("-m", "ruff", "format", "--check", "--quiet", "."),
        remedy=".venv/bin/python -m ruff format .",
    ),
    Check(
        name="style",
        arguments=("-m", "ruff", "check", "--quiet", "."),
        remedy=".venv/bin/python -m ruff check --fix .",
    ),
    Check(
        name="types",
        arguments=("-m", "mypy"),
        remedy="add or mend the annotations named above",
    ),
    Check(
        name="layers",
        arguments=("-c", "from importlinter.cli import lint_imports_command as main; main()", "--no-logo"),
        remedy="move the import down a layer, or the code up",
    ),
    Check(
        name="migrations",
        arguments=("-W", "ignore::RuntimeWarning", "manage.py", "makemigrations", "--check", "--dry-run"),
        remedy="python3 manage.py makemigrations, with a name that says what it does",
    ),
    Check(
        name="generated pages",
        arguments=("manage.py", "gendocs", "--check"),
        remedy="python3 manage.py gendocs",
    ),
)


def run(words: list[str]) -> int:
    """Make every check, or those named, and return 1 when one finds something."""
    wanted = [check for check in CHECKS if not words or check.name in words]
    if not wanted:
        print(f"lint knows: {', '.join(check.name for check in CHECKS)}")
        return 2
    failed = [check for check in wanted if not passes(check)]
    for check in failed:
        print(f"lint: {check.name} found something. {check.remedy}")
    if not failed:
        print(f"lint: nothing found in {', '.join(check.name for check in wanted)}.")
    return 1 if failed else 0


def passes(check: Check) -> bool:
    """Make one check, its findings printed as they come."""
    print(f"lint: {check.name} …", flush=True)
    done = subprocess.run([sys.executable, *check.arguments], cwd=CHECKOUT, env=dict(os.environ), check=False)
    return done.returncode == 0
