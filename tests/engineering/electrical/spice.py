"""Distributions written as a deck for ngspice, solved there, and read back."""

import re
import subprocess
from collections.abc import Sequence
from pathlib import Path

from builds.engineering.vocabulary import LoadModel
from tests.engineering.electrical.nets import Drawing

# Its own default tolerance is 1e-3, which is no check at all.
OPTIONS = ".options reltol=1e-9 abstol=1e-12 vntol=1e-12 gmin=1e-15 itl1=500"


def deck_of(drawings: Sequence[Drawing]) -> str:
    """One deck for all drawings, each with node names of its own, all on one ground."""
    lines = ["distributions", OPTIONS]
    for number, drawing in enumerate(drawings):
        lines += _lines_of(number, drawing)
    return "\n".join([*lines, ".control", "set numdgt=12", "op", "print all", "quit 0", ".endc", ".end", ""])


def solve_with_ngspice(drawings: Sequence[Drawing], folder: Path) -> list[dict[str, float]]:
    """
    Return for each drawing the voltage of every node, and the source's current under the name ``source``.

    One process solves them all: each stands on the common ground by its own source's negative post.
    """
    deck = folder / "deck.cir"
    deck.write_text(deck_of(drawings), encoding="ascii")
    done = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, timeout=60, check=True)
    figures = {name: float(value) for name, value in re.findall(r"^(\S+) = (\S+)$", done.stdout, re.MULTILINE)}
    return [_figures_of(number, drawing, figures) for number, drawing in enumerate(drawings)]


def _figures_of(number: int, drawing: Drawing, figures: dict[str, float]) -> dict[str, float]:
    nodes = {end for b in drawing.branches for end in (b.from_node, b.to_node)} | {
        "-",
        drawing.sources[0].positive_node,
    }
    found = {node: 0.0 if node == "-" else figures[_node(number, node)] for node in nodes}
    return found | {"source": -figures[f"v{number}#branch"]}


def _node(number: int, name: str) -> str:
    if name == "-":
        return "0"
    plain = name.lower().replace("+", "_plus").replace("-", "_minus").replace(" ", "_")
    return f"n{number}_{plain}"


def _lines_of(number: int, drawing: Drawing) -> list[str]:
    plus = _node(number, drawing.sources[0].positive_node)
    inside = plus if drawing.source_ohm == 0 else f"n{number}_emf"
    lines = [f"V{number} {inside} 0 DC {drawing.emf_v!r}"]
    if inside != plus:
        lines.append(f"R{number}s {inside} {plus} {drawing.source_ohm!r}")
    for at, part in enumerate(drawing.branches):
        ends = f"{_node(number, part.from_node)} {_node(number, part.to_node)}"
        lines.append(f"R{number}b{at} {ends} {part.resistance_ohm!r}")
    for at, part in enumerate(drawing.loads):
        ends = (_node(number, part.supply_node), _node(number, part.return_node))
        lines.append(_load_line(f"{number}l{at}", ends, part.model, part.current_a, part.at_v, drawing.emf_v))
    # the search starts at the source's voltage, so that constant power is met on its upper root
    supply = {end for b in drawing.branches for end in (b.from_node, b.to_node) if not _is_return(end)}
    lines += [
        f".nodeset v({_node(number, node)})={drawing.emf_v!r}"
        for node in sorted(supply | {drawing.sources[0].positive_node})
    ]
    return lines


def _is_return(node: str) -> bool:
    return node.endswith("-") or node.lower().startswith("g")


def _load_line(name: str, ends: tuple[str, str], model: LoadModel, amperes: float, at_v: float, emf_v: float) -> str:
    plus, minus = ends
    match model:
        case LoadModel.CONSTANT_CURRENT:
            return f"I{name} {plus} {minus} DC {amperes!r}"
        case LoadModel.RESISTIVE:
            return f"R{name} {plus} {minus} {at_v / amperes!r}"
        case LoadModel.CONSTANT_POWER:
            across = f"v({plus})-v({minus})" if minus != "0" else f"v({plus})"
            return f"B{name} {plus} {minus} I={amperes * at_v!r}/max({across},{0.3 * emf_v!r})"
