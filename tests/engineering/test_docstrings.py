"""Every public function of the core says its units: in the name of each float, and in the docstring."""

import doctest
import importlib
import inspect
import pkgutil
import re
import typing
from collections.abc import Callable, Iterator
from types import ModuleType

import pytest

import builds.engineering as core

# A float's name ends in its unit. `_ratio` and `_exponent` are pure numbers, written [1] in the docstring.
UNITS = {
    "_a": "[A]", "_v": "[V]", "_ohm": "[Ω]", "_ohm_per_m": "[Ω/m]", "_w": "[W]", "_ah": "[Ah]", "_h": "[h]",
    "_hours": "[h]", "_min": "[min]", "_s": "[s]", "_d": "[d]", "_c": "[°C]", "_f": "[°F]", "_m": "[m]", "_mm": "[mm]",
    "_mm2": "[mm²]", "_ft": "[ft]", "_cmil": "[cmil]", "_lb": "[lb]", "_kg": "[kg]", "_rpm": "[1/min]",
    "_ratio": "[1]", "_exponent": "[1]",
}  # fmt: skip

# Range checks, wordings and conversions of any figure take any unit: their argument has none of its own.
OF_ANY_UNIT = {
    "builds.engineering.ranges",
    "builds.engineering.assessing.words",
    "builds.engineering.money.as_decimal",
    "builds.engineering.explaining.values.number_text",
    "builds.engineering.functions.words.figure_words",
}

# The steps of an assessment and of its workings call the formulas and have no readers of their own: the name alone says the unit there.
UNIT_IN_NAME_ONLY = ("builds.engineering.assessing.", "builds.engineering.explaining.")


def modules() -> Iterator[ModuleType]:
    for found in pkgutil.walk_packages(core.__path__, "builds.engineering."):
        yield importlib.import_module(found.name)


def public_functions() -> Iterator[Callable[..., object]]:
    for module in modules():
        for name, function in inspect.getmembers(module, inspect.isfunction):
            if not name.startswith("_") and function.__module__ == module.__name__:
                yield function


def name_of(function: Callable[..., object]) -> str:
    return f"{function.__module__}.{function.__qualname__}"


def is_figure(hint: object) -> bool:
    """A float, or one that may be missing. (Arrays and lists may be states of several units, or signs, which have none.)"""
    return hint is float or (float in typing.get_args(hint) and typing.get_origin(hint) is not list)


def figures_of(function: Callable[..., object]) -> list[str]:
    if function.__module__ in OF_ANY_UNIT or name_of(function) in OF_ANY_UNIT:
        return []
    hints = typing.get_type_hints(inspect.unwrap(function))
    return [name for name, hint in hints.items() if name != "return" and is_figure(hint)]


def unit_of(name: str) -> str | None:
    endings = sorted((ending for ending in UNITS if name.endswith(ending)), key=len)
    return UNITS[endings[-1]] if endings else None


def entry_of(name: str, docstring: str) -> str:
    """The text under a parameter's own line, up to the next line that starts as far left."""
    found = re.search(rf"^{name} : [^\n]*\n((?:[ ]+[^\n]*\n?)+)", docstring, re.MULTILINE)
    return found.group(1) if found else ""


ALL = {name_of(function): function for function in public_functions()}
WITH_FIGURES = {name: function for name, function in ALL.items() if figures_of(function)}


def faults_of(name: str) -> Iterator[str]:
    """What is wrong with the figures of one function."""
    function = WITH_FIGURES[name]
    docstring = inspect.getdoc(inspect.unwrap(function)) or ""
    for figure in figures_of(function):
        unit = unit_of(figure)
        if unit is None:
            yield f"{name}: {figure} does not end in a unit"
        elif not name.startswith(UNIT_IN_NAME_ONLY) and unit not in entry_of(figure, docstring):
            yield f"{name}: the docstring's entry of {figure} does not say {unit}"


def test_every_public_function_says_what_it_does() -> None:
    assert [name for name, function in ALL.items() if not inspect.getdoc(function)] == []


def test_every_float_carries_its_unit_in_name_and_docstring() -> None:
    assert [fault for name in WITH_FIGURES for fault in faults_of(name)] == []


def test_the_walk_finds_functions_and_figures() -> None:
    assert len(WITH_FIGURES) > 30
    assert "builds.engineering.electrical.voltage_drop.drop_ratio" in WITH_FIGURES


@pytest.mark.parametrize(
    "module", [module for module in modules() if ">>>" in inspect.getsource(module)], ids=lambda module: module.__name__
)
def test_examples_in_docstrings_come_true(module: ModuleType) -> None:
    assert doctest.testmod(module).failed == 0
