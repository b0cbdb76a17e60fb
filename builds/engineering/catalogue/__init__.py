"""
The catalogue of findings: every id that an assessment can report, with its weight, its words and where its rule is from.

Each family of findings has a module; :mod:`builds.engineering.catalogue.whole` puts them together.
"""

from builds.engineering.catalogue.whole import CATALOGUE, found
from builds.engineering.catalogue_kind import FindingKind

__all__ = ["CATALOGUE", "FindingKind", "found"]
