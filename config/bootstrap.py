"""
The virtual environment `.venv` in the checkout: made, filled with the pinned packages, entered.

Runs on the standard library of any Python 3.11 or later. Two starts at once are safe: one installs
while the other waits. The stamp that says "complete" is written last, inside the lock, and is a
hash of the requirement file alone.
"""

from __future__ import annotations

import errno
import fcntl
import hashlib
import importlib.metadata
import importlib.util
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from config import system_packages
from config.embedded.plain_errors import PlainError, explain_os_error
from config.system_packages import SystemPackage

CHECKOUT = Path(__file__).resolve().parent.parent
VENV = CHECKOUT / ".venv"
LOCK = CHECKOUT / ".venv.lock"
RUN_REQUIREMENTS = CHECKOUT / "requirements.txt"
DEVELOPMENT_REQUIREMENTS = CHECKOUT / "requirements-dev.txt"
ENTRIES = "BAYWRIGHT_ENTRIES"
MOST_ENTRIES = 2
WHY_SYSTEM = "packages of its distribution that this command needs"
MACHINE_FAULTS = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EACCES, errno.EPERM, errno.EROFS, errno.EMFILE})
PINNED = re.compile(r"^(?P<name>[A-Za-z0-9._-]+)==(?P<version>[^\s\\;]+)")


def enter_environment(argv: list[str], *, development: bool, system: Sequence[SystemPackage] = ()) -> None:
    """
    Return when this process has the pinned packages; otherwise install them and start again inside.

    Outside `.venv` a Python that has every pinned package already (a container image) is used as it is.
    `system` is what the command needs of the distribution: asked for first, together with what making
    the environment needs, so that a person types one line and not three.
    """
    wanted = DEVELOPMENT_REQUIREMENTS if development else RUN_REQUIREMENTS
    inside = is_inside(VENV)
    if inside and is_complete(wanted):
        os.environ.pop(ENTRIES, None)
        return
    if not inside and not is_complete(wanted) and has_every_package(wanted):
        return
    if not is_complete(wanted):
        system_packages.require([*what_a_venv_needs(), *system], why=WHY_SYSTEM)
        install(wanted)
    start_again(argv)


def what_a_venv_needs() -> list[SystemPackage]:
    """Return the distribution's package without which this Python cannot make an environment."""
    if usable() or all(importlib.util.find_spec(name) for name in ("venv", "ensurepip")):
        return []
    return [system_packages.VENV]


def is_inside(venv: Path) -> bool:
    """Return whether this process runs in `venv`. Its executable may be a link to anywhere."""
    return Path(sys.prefix).resolve() == venv.resolve()


def is_complete(requirements: Path) -> bool:
    """Return whether `.venv` holds exactly what `requirements` asks for, for the Python it links to."""
    try:
        stamped = stamp_of(requirements).read_text()
    except OSError:
        return False
    return stamped == digest(requirements) and packages_are_where_python_looks()


def packages_are_where_python_looks() -> bool:
    """
    Return whether the environment's Python still finds its packages.

    After the machine's Python moved on, `.venv/bin/python` is the new one, which looks in a folder
    named after its own version and finds nothing.
    """
    if not os.access(VENV / "bin" / "python", os.X_OK):
        return False
    if is_inside(VENV):
        return importlib.util.find_spec("django") is not None
    return any(VENV.glob("lib/python3.*/site-packages/django"))


def digest(requirements: Path) -> str:
    """Return the hash of a requirement file, and of nothing else."""
    return hashlib.sha256(requirements.read_bytes()).hexdigest()


def stamp_of(requirements: Path) -> Path:
    """Return the file that says which state of `requirements` is installed."""
    return VENV / f"complete-{requirements.stem}"


def has_every_package(requirements: Path) -> bool:
    """Return whether this Python has each pinned package in exactly the pinned version."""
    for name, version in pinned_versions(requirements):
        try:
            if importlib.metadata.version(name) != version:
                return False
        except importlib.metadata.PackageNotFoundError:
            return False
    return True


def pinned_versions(requirements: Path) -> Iterator[tuple[str, str]]:
    """Yield name and version of each pinned package."""
    for line in requirements.read_text().splitlines():
        if match := PINNED.match(line):
            yield match["name"], match["version"]


def start_again(argv: list[str]) -> None:
    """Replace this process by the same command inside `.venv`."""
    entries = int(os.environ.get(ENTRIES, "0")) + 1
    if entries > MOST_ENTRIES:
        raise PlainError(f"{VENV} does not work with this Python. Remove that folder and start again.")
    environment = {
        name: value
        for name, value in os.environ.items()
        if name not in ("PYTHONHOME", "PYTHONPATH", "__PYVENV_LAUNCHER__")
    }
    environment[ENTRIES] = str(entries)
    sys.stdout.flush()
    sys.stderr.flush()
    python = str(VENV / "bin" / "python")
    os.execve(python, [python, str(CHECKOUT / "manage.py"), *argv[1:]], environment)


def install(requirements: Path) -> None:
    """Make `.venv` if need be and install `requirements` into it."""
    with locked():
        if is_complete(requirements):  # another start did it while this one waited
            return
        stamp_of(requirements).unlink(missing_ok=True)
        if not usable():
            make_venv()
        install_packages(requirements)
        stamp_of(requirements).write_text(digest(requirements))
        if requirements == DEVELOPMENT_REQUIREMENTS:  # which holds the other file's packages too
            stamp_of(RUN_REQUIREMENTS).write_text(digest(RUN_REQUIREMENTS))


@contextmanager
def locked() -> Iterator[None]:
    """Hold the lock on `.venv`; the kernel lets go of it when this process dies."""
    try:
        stream = LOCK.open("w")
    except OSError as error:
        raise explain_checkout(error) from error
    with stream:
        try:
            fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Another start is installing the Python packages; waiting for it …")
            fcntl.flock(stream, fcntl.LOCK_EX)
        yield


def usable() -> bool:
    """Return whether `.venv` has a Python of ours that runs pip."""
    if is_inside(VENV):
        return importlib.util.find_spec("pip") is not None
    python = VENV / "bin" / "python"
    if not os.access(python, os.X_OK):
        return False
    asked = [str(python), "-c", "import pip, sys; sys.exit(sys.version_info < (3, 11))"]
    return subprocess.run(asked, capture_output=True, check=False).returncode == 0


def make_venv() -> None:
    """Make an empty `.venv`, clearing a half-made one."""
    say("Making .venv for Baywright's Python packages …")
    python = sys.executable if not is_inside(VENV) else sys._base_executable  # type: ignore[attr-defined]
    try:
        shutil.rmtree(VENV, ignore_errors=True)
        made = subprocess.run(
            [python, "-m", "venv", "--clear", str(VENV)],
            capture_output=True,
            text=True,
            env=plain_environment(),
            check=False,
        )
    except OSError as error:
        raise explain_checkout(error) from error
    if made.returncode != 0:
        raise explain_failure(made.stdout + made.stderr, "The environment .venv could not be made")


def install_packages(requirements: Path) -> None:
    """Install the hashed requirements into `.venv`."""
    count = sum(1 for _ in pinned_versions(requirements))
    say(f"Installing {count} Python packages into .venv (once; about a minute) …")
    command = [
        str(VENV / "bin" / "python"),
        *("-m", "pip", "install", "--quiet", "--no-input", "--disable-pip-version-check"),
        *("--progress-bar", "off", "--no-warn-script-location", "--root-user-action", "ignore"),
        *("--require-hashes", "--only-binary", ":all:", "-r", str(requirements)),
    ]
    done = subprocess.run(command, capture_output=True, text=True, env=plain_environment(), check=False)
    if done.returncode != 0:
        raise explain_failure(done.stdout + done.stderr, "The Python packages could not be installed")


def plain_environment() -> dict[str, str]:
    """Return this environment without what would turn another Python's head."""
    left_out = ("PYTHONHOME", "PYTHONPATH", "PIP_REQUIRE_VIRTUALENV", "PIP_USER", "PIP_TARGET")
    return {name: value for name, value in os.environ.items() if name not in left_out}


def explain_failure(output: str, what: str) -> PlainError:
    """Return the sentence for a failed installation, from what it printed."""
    if "No space left on device" in output or "[Errno 28]" in output or "quota" in output:
        return PlainError(
            f"{what}: there is no room left on the disk that holds {CHECKOUT}. Free about 500 MB and start again."
        )
    log = LOCK.with_suffix(".log")
    log.write_text(output)
    lines = [line.strip() for line in output.splitlines() if line.strip()]
    errors = [line for line in lines if line.upper().startswith("ERROR")] or lines
    last = errors[-1].removeprefix("ERROR: ") if errors else "no reason was given"
    return PlainError(
        f"{what}: {last} The rest is in {log}. Look at it, the network and the package index, and start again."
    )


def explain_checkout(error: OSError) -> PlainError:
    """Return the sentence for a checkout this account may not write to."""
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return PlainError(
            f"Baywright keeps its Python packages in {VENV} and may not write there. "
            "Start it from a checkout of your own."
        )
    return explain_os_error(error, path=VENV)


def say(text: str) -> None:
    """Print a line at once, beside the output."""
    print(text, file=sys.stderr, flush=True)
