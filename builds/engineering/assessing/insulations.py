"""Insulation that bears the place where a conductor lies."""

from dataclasses import replace

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.wires import wire_of_circuit, wire_of_run
from builds.engineering.design import Circuit, Run
from builds.engineering.electrical.ampacity import insulation_classes_c

__all__ = ["carrying_class_c", "least_class_c"]


def least_class_c(ambient_c: float) -> float | None:
    """Return the lowest class of the amperage table that carries anything at an ambient; ``None`` above them all [°C]."""
    return next((class_c for class_c in insulation_classes_c() if class_c > ambient_c), None)


def carrying_class_c(index: IndexedDesign, part: Circuit | Run, least_a: float) -> float | None:
    """Return the lowest class in which a conductor carries a current in its own gauge, where it lies; ``None`` for none [°C]."""
    for class_c in insulation_classes_c():
        if isinstance(part, Circuit):
            wire = wire_of_circuit(index, replace(part, insulation_c=class_c))
        else:
            wire = wire_of_run(index, replace(part, insulation_c=class_c))
        if (wire.ampacity_a or 0.0) >= least_a > 0.0:
            return class_c
    return None
