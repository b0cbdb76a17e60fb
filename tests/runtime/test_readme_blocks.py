"""The README's code blocks are commands that exist, and what runs them takes them all."""

import importlib.machinery
import importlib.util
from types import ModuleType

from tests.runtime.running import CHECKOUT, run_manage


def blocks_module() -> ModuleType:
    loader = importlib.machinery.SourceFileLoader("readme_blocks", str(CHECKOUT / ".ci" / "readme-blocks"))
    spec = importlib.util.spec_from_loader("readme_blocks", loader)
    assert spec is not None
    module = importlib.util.module_from_spec(spec)
    loader.exec_module(module)
    return module


def test_readme_names_the_two_commands_and_the_assessment_of_a_document_that_ships() -> None:
    assert blocks_module().blocks() == [
        "python3 manage.py demo",
        "python3 manage.py test",
        "python3 manage.py assess demo/2609-escort-car.json",
    ]


def test_readmes_assessment_ends_without_a_blocking_finding() -> None:
    done = run_manage("assess", "demo/2609-escort-car.json")

    assert done.returncode == 0
    assert '"findings": []' in done.stdout
