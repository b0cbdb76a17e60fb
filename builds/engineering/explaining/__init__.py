"""
How each figure of a build came about: formula, numbers in, values on the way, table row and edition, source, rule.

A working is made only when somebody asks for it, from the solved design the figure itself came from. What it prints can be
worked again by hand: every printed formula, on its printed numbers, gives its printed result.
"""

from builds.engineering.explaining.explain import explain, keys_of, workings_of
from builds.engineering.explaining.values import Comparison, Number, Row, Rows, Step, Working, number_text

__all__ = ["Comparison", "Number", "Row", "Rows", "Step", "Working", "explain", "keys_of", "number_text", "workings_of"]
