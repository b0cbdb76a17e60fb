"""What stands beside the cells of a table: what the core says of each row, and the version each row has."""

from builds.models import Build
from builds.selectors.build_sheet import Sheet
from builds.selectors.figure_words import ampere, percent

__all__ = ["RESULTS", "result_texts", "row_versions"]

# The heads of the figures beside the cells, by family.
RESULTS: dict[str, tuple[str, ...]] = {
    "circuit": ("Load A", "Peak A", "Drop %"),
    "run": ("Continuous A", "Peak A", "Drop V"),
    "load": ("Circuit", "Legend"),
}


def result_texts(sheet: Sheet, family: str) -> dict[str, list[str]]:
    """Return the figures of each row by its key; a row without an operating point has none."""
    if family == "circuit":
        return {
            item.number: [ampere(item.mean_a), ampere(item.peak_a), percent(item.drop_ratio)]
            for item in sheet.assessment.circuits
        }
    if family == "run":
        return {
            item.key: [ampere(item.continuous_a), ampere(item.peak_a), f"{item.drop_v:.2f}"]
            for item in sheet.assessment.runs
        }
    legends = {circuit.number: circuit.legend for circuit in sheet.design.circuits}
    return {load.key: [load.circuit, legends.get(load.circuit, "")] for load in sheet.design.loads}


def row_versions(build: Build, family: str) -> dict[str, int]:
    """Return the version of every row of a family by its key, in one question."""
    field, rows = _ROWS[family]
    return dict(getattr(build, rows).values_list(field, "row_version"))


_ROWS = {"circuit": ("number", "circuits"), "run": ("key", "runs"), "load": ("key", "loads"), "node": ("key", "nodes")}
