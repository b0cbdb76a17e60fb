"""
From a command line to the code that answers it. Standard library only until the packages are there.

`demo`, `serve`, `test` and `lint` are answered here; every other name is a Django command, for which
the servers of the data folder are started when nothing else is named and nobody runs them already.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from contextlib import nullcontext

from config import bootstrap, system_packages
from config.embedded.plain_errors import PlainError, explain_os_error
from config.system_packages import SystemPackage

DEVELOPMENT_COMMANDS = frozenset({"test", "lint", "bench", "pictures"})
# Django commands that read no table: they start no server.
WITHOUT_DATABASE = frozenset(
    {
        *("assess", "check", "collectstatic", "diffsettings", "findstatic", "gendocs", "help"),
        *("makemigrations", "sqlmigrate", "startapp", "startproject", "--help", "-h"),
        *("version", "--version"),
    }
)
OUR_COMMANDS = """Baywright's own commands:

  demo [--once] [--port N]   a working shop with demo data, one build taken to its packet
  serve [--port N] [--host H] [--tls CERT KEY]
                             the same without demo data
  test [--without browser,ngspice] [pytest arguments]
                             the whole suite on a real database and broker
  lint                       format, style, types, layers, migrations, generated pages
  bench                      speed figures beside their peers, in one run
  pictures [NAME …]          take the screenshots in docs/pictures again
"""


def main(argv: list[str]) -> int:
    """Answer the command line `argv` and return the exit status."""
    name = argv[1] if len(argv) > 1 else "help"
    try:
        bootstrap.enter_environment(
            argv, development=name in DEVELOPMENT_COMMANDS, system=system_packages_for(name, argv[2:])
        )
        return command_for(name)(argv)
    except PlainError as error:
        print(f"baywright: {error}", file=sys.stderr)
        return error.exit_status
    except OSError as error:
        if error.errno not in bootstrap.MACHINE_FAULTS:
            raise
        print(f"baywright: {explain_os_error(error)}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130


def system_packages_for(name: str, words: list[str]) -> list[SystemPackage]:
    """Return what the command `name` needs of the distribution."""
    if name in ("demo", "serve"):
        return list(system_packages.FOR_THE_PACKET)
    if name == "test":
        from config.testing.run import needed_packages

        return needed_packages(words)
    return []


def command_for(name: str) -> Callable[[list[str]], int]:
    """Return what answers the command `name`."""
    known: dict[str, Callable[[list[str]], int]] = {
        "demo": run_supervisor,
        "serve": run_supervisor,
        "test": run_tests,
        "lint": run_lint,
        "pictures": run_pictures,
        "assess": run_assess,
    }
    return known.get(name, run_django)


def run_supervisor(argv: list[str]) -> int:
    """`demo` and `serve`."""
    from config.supervisor.command_line import run

    return run(argv[1], argv[2:])


def run_tests(argv: list[str]) -> int:
    """`test`."""
    from config.testing.run import run

    return run(argv[2:])


def run_lint(argv: list[str]) -> int:
    """`lint`."""
    from config.testing.lint import run

    return run(argv[2:])


def run_pictures(argv: list[str]) -> int:
    """`pictures`."""
    from config.testing.pictures import run

    return run(argv[2:])


def run_assess(argv: list[str]) -> int:
    """`assess FILE`, without Django: no settings, no data folder, and a quick start."""
    if len(argv) != 3 or argv[2] in ("-h", "--help"):
        return run_django(argv)
    from builds.management.assessment_report import assess_file

    return assess_file(argv[2])


def run_django(argv: list[str]) -> int:
    """Every other command."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    from django.core.management import execute_from_command_line

    from config.supervisor.standalone import servers_for_a_command

    name = argv[1] if len(argv) > 1 else "help"
    if name in ("help", "--help", "-h") and len(argv) < 3:
        print(OUR_COMMANDS)
    asks_for_help = any(word in ("-h", "--help") for word in argv[2:])
    reads_tables = name not in WITHOUT_DATABASE and not asks_for_help
    with servers_for_a_command(name) if reads_tables else nullcontext():
        require_readable_settings()
        execute_from_command_line(argv)
    return 0


def require_readable_settings() -> None:
    """Raise PlainError when a variable of the environment cannot be read; Django would show a trace."""
    from django.conf import settings
    from django.core.exceptions import ImproperlyConfigured

    try:
        _ = settings.INSTALLED_APPS
    except ImproperlyConfigured as error:
        raise PlainError(str(error)) from error
