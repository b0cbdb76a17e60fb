"""
What the distribution has to bring, found missing before it bites.

As root on a Debian-like machine it is installed; otherwise the one line to type is said.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from config.embedded.plain_errors import PlainError

EXIT_INSTALL_FIRST = 3
REQUIRED_AS_ROOT_WITH = "apt-get"


@dataclass(frozen=True, slots=True, kw_only=True)
class SystemPackage:
    """Something the distribution ships: how to tell that it is there, and its package by family."""

    purpose: str
    present: Callable[[], bool]
    debian: str
    fedora: str
    alpine: str


def library(name: str) -> Callable[[], bool]:
    """Return a test for the shared library `name`."""

    def present() -> bool:
        try:
            ctypes.CDLL(name)
        except OSError:
            return False
        return True

    return present


def program(*names: str) -> Callable[[], bool]:
    """Return a test for a program known under any of `names`."""
    return lambda: any(shutil.which(name) for name in names)


def _venv_package() -> str:
    """A Python that is not the distribution's default has a package of its own."""
    default = Path("/usr/bin/python3").resolve()
    if Path(sys.executable).resolve() == default:
        return "python3-venv"
    return f"python3.{sys.version_info.minor}-venv"


VENV = SystemPackage(
    purpose="virtual environments",
    present=lambda: False,  # asked for only where they are missing
    debian=_venv_package(),
    fedora="python3",
    alpine="python3",
)
PANGO = SystemPackage(
    purpose="text layout in the packet",
    present=library("libpango-1.0.so.0"),
    debian="libpango-1.0-0",
    fedora="pango",
    alpine="pango",
)
PANGO_FONTS = SystemPackage(
    purpose="fonts in the packet",
    present=library("libpangoft2-1.0.so.0"),
    debian="libpangoft2-1.0-0",
    fedora="pango",
    alpine="pango",
)
FONT_SUBSETS = SystemPackage(
    purpose="the parts of fonts that the packet carries",
    present=library("libharfbuzz-subset.so.0"),
    debian="libharfbuzz-subset0",
    fedora="harfbuzz",
    alpine="harfbuzz-subset",
)
BROWSER = SystemPackage(
    purpose="browser tests",
    present=program("chromium", "chromium-browser"),
    debian="chromium",
    fedora="chromium",
    alpine="chromium",
)
BROWSER_DRIVER = SystemPackage(
    purpose="what drives the browser in tests",
    present=library("libatomic.so.1"),
    debian="libatomic1",
    fedora="libatomic",
    alpine="libatomic",
)
NGSPICE = SystemPackage(
    purpose="the comparison with a circuit simulator",
    present=program("ngspice"),
    debian="ngspice",
    fedora="ngspice",
    alpine="ngspice",
)
FOR_THE_PACKET = (PANGO, PANGO_FONTS, FONT_SUBSETS)
FOR_TESTS = {"browser": (BROWSER, BROWSER_DRIVER), "ngspice": (NGSPICE,)}


def require(packages: Iterable[SystemPackage], *, why: str) -> None:
    """
    Return when all of `packages` are there, after installing what is missing as root.

    Otherwise raise PlainError with the line to type and exit status 3.
    """
    missing = [package for package in packages if not package.present()]
    if not missing:
        return
    line = install_line(missing)
    if os.geteuid() != 0 or not shutil.which(REQUIRED_AS_ROOT_WITH):
        raise PlainError(
            f"This machine lacks {why}. Type this once, then start again:\n  {line}",
            exit_status=EXIT_INSTALL_FIRST,
        )
    names = sorted({package.debian for package in missing})
    print(f"Installing from the distribution: {' '.join(names)} …", file=sys.stderr, flush=True)
    if not install_as_root(names):
        raise PlainError(
            f"The distribution's packages could not be installed. Type this to see why:\n  {line}",
            exit_status=EXIT_INSTALL_FIRST,
        )


def install_line(missing: Iterable[SystemPackage]) -> str:
    """Return the one line that installs `missing` on this distribution, as an ordinary user types it."""
    family = distribution_family()
    names = " ".join(sorted({getattr(package, family) for package in missing}))
    before = "" if os.geteuid() == 0 else "sudo "
    command = {
        "debian": f"apt-get update && {before}apt-get install -y --no-install-recommends",
        "fedora": "dnf install -y",
        "alpine": "apk add",
    }[family]
    return f"{before}{command} {names}"


def distribution_family(os_release: Path = Path("/etc/os-release")) -> str:
    """Return `debian`, `fedora` or `alpine`: whose package names to say."""
    try:
        text = os_release.read_text()
    except OSError:
        return "debian"
    fields = dict(line.split("=", 1) for line in text.splitlines() if "=" in line)
    words = f"{fields.get('ID', '')} {fields.get('ID_LIKE', '')}".replace('"', "").split()
    if {"fedora", "rhel", "centos", "suse"}.intersection(words):
        return "fedora"
    return "alpine" if "alpine" in words else "debian"


def install_as_root(names: list[str]) -> bool:
    """Install the named packages with apt-get and return whether that worked."""
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    install = ["apt-get", "install", "-y", "-qq", "--no-install-recommends", *names]
    for command in (["apt-get", "update", "-qq"], install):
        done = subprocess.run(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, check=False)
        if done.returncode != 0:
            sys.stderr.write(done.stderr.decode(errors="replace")[-2000:])
            return False
    return True
