"""Running the project's commands as a person does, apart from what the test run set for itself."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
# What the test run set for itself must not reach a command that is to stand on its own.
OF_THE_TEST_RUN = (
    "DATABASE_URL",
    "BROKER_URL",
    "SECRET_KEY",
    "ALLOWED_HOSTS",
    "SERVE_STATIC",
    "MEDIA_ROOT",
    "DJANGO_SETTINGS_MODULE",
)


def clean_environment(**values: str) -> dict[str, str]:
    """Return this environment without what the test run put into it, and with `values`."""
    kept = {name: value for name, value in os.environ.items() if name not in OF_THE_TEST_RUN}
    return {**kept, **values}


def run_manage(*words: str, **values: str) -> subprocess.CompletedProcess[str]:
    """Run `manage.py` to its end."""
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=CHECKOUT,
        env=clean_environment(**values),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
