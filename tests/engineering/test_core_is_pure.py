"""The core computes and knows nothing else: no framework, no database, no application code."""

import subprocess
import sys

FORBIDDEN = ("django", "rest_framework", "celery", "psycopg", "weasyprint", "config", "inventory")
SCRIPT = f"""
import importlib, pkgutil, sys
import builds.engineering as core
for module in pkgutil.walk_packages(core.__path__, "builds.engineering."):
    importlib.import_module(module.name)
strange = [name for name in sys.modules if name.split(".")[0] in {FORBIDDEN!r}]
strange += [
    name for name in sys.modules
    if name.startswith("builds.") and not name.startswith("builds.engineering")
]
print(sorted(strange))
"""


def test_importing_the_whole_core_imports_no_framework_and_no_application() -> None:
    done = subprocess.run([sys.executable, "-c", SCRIPT], capture_output=True, text=True, check=True, timeout=60)

    assert done.stdout.strip() == "[]"
