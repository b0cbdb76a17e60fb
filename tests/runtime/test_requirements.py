"""The two hashed requirement files: complete for every Python that may start Baywright."""

from __future__ import annotations

import importlib.metadata
from collections.abc import Iterator

import pytest
from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from config import bootstrap
from config.bootstrap import DEVELOPMENT_REQUIREMENTS, RUN_REQUIREMENTS, pinned_versions

PYTHONS = ("3.11.0", "3.11.2", "3.12.3", "3.13.1", "3.14.0")
# The extras that pyproject.toml and the packages themselves ask for.
EXTRAS = {"celery": "redis", "kombu": "redis", "whitenoise": "brotli", "fonttools": "woff"}


def names_of(requirements: object) -> set[str]:
    """Return the canonical names in a requirement file."""
    return {str(canonicalize_name(name)) for name, _ in pinned_versions(requirements)}  # type: ignore[arg-type]


def asked_for(name: str, python: str) -> Iterator[str]:
    """Yield what the installed package `name` asks for under another Python."""
    environment = default_environment() | {
        "python_full_version": python,
        "python_version": ".".join(python.split(".")[:2]),
    }
    for text in importlib.metadata.requires(name) or ():
        requirement = Requirement(text)
        for extra in ("", EXTRAS.get(name, "")):
            if requirement.marker is None or requirement.marker.evaluate({**environment, "extra": extra}):
                yield str(canonicalize_name(requirement.name))


@pytest.mark.parametrize("python", PYTHONS)
@pytest.mark.parametrize("requirements", [RUN_REQUIREMENTS, DEVELOPMENT_REQUIREMENTS], ids=["run", "development"])
def test_every_package_that_a_python_asks_for_is_pinned(requirements: object, python: str) -> None:
    """Pins are made with one Python; an older or newer one may ask for more, and hashes then refuse it."""
    pinned = names_of(requirements)
    missing = {
        f"{name} asks for {wanted}" for name in pinned for wanted in asked_for(name, python) if wanted not in pinned
    }

    assert missing == set()


def test_development_file_holds_the_very_pins_of_the_run_file() -> None:
    """The stamp of the run file is written after an installation of the other."""
    assert set(pinned_versions(RUN_REQUIREMENTS)) <= set(pinned_versions(DEVELOPMENT_REQUIREMENTS))


@pytest.mark.parametrize("requirements", [RUN_REQUIREMENTS, DEVELOPMENT_REQUIREMENTS], ids=["run", "development"])
def test_requirement_file_names_no_place_of_the_machine_that_made_it(requirements: object) -> None:
    text = requirements.read_text()  # type: ignore[attr-defined]
    options = [line for line in text.splitlines() if line.startswith("-")]

    assert options == []
    assert text.count("==") <= text.count("--hash=sha256:")


def test_no_wheel_is_kept_in_the_repository() -> None:
    assert not list(bootstrap.CHECKOUT.glob("*.whl"))
