"""
Conductor and protective device proposed together for every circuit and every feed of a design.

:func:`propose` says what each ought to be and which rule asked for it; :func:`changes_of` turns chosen proposals into changes
that can be applied; :func:`preview` says what a set of changes does to the whole build before anybody keeps it.
"""

from builds.engineering.proposing.preview import Preview, Shift, preview
from builds.engineering.proposing.propose import changes_of, propose
from builds.engineering.proposing.values import Refusal, RuleCheck, SizingProposal, SizingRule

__all__ = [
    "Preview",
    "Refusal",
    "RuleCheck",
    "Shift",
    "SizingProposal",
    "SizingRule",
    "changes_of",
    "preview",
    "propose",
]
