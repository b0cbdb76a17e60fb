"""Proposals hold in the design that they make: nothing is proposed there again, the next smaller fails there, nothing new blocks."""

from functools import lru_cache

import pytest

from builds.engineering.assess import assess
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.document import read_document
from builds.engineering.proposing import changes_of, propose
from builds.management.benchmarks.large_build import document_of
from tests.engineering.proposing.random_builds import random_build

SEEDS = (*range(24), 234, 292)  # the last two take more rounds than one settling has


@lru_cache(maxsize=len(SEEDS))
def settled(seed: int) -> Design:
    """The build of a seed with all that is proposed for it."""
    design = random_build(seed)
    return apply_changes(design, changes_of(propose(design)))


def blocking(design: Design) -> set[tuple[str, str]]:
    return {(finding.id, finding.subject) for finding in assess(design).blocking}


@pytest.mark.parametrize("seed", SEEDS)
def test_proposing_again_proposes_nothing(seed: int) -> None:
    after = settled(seed)

    assert changes_of(propose(after)) == ()


@pytest.mark.parametrize("seed", SEEDS)
def test_all_applied_brings_nothing_that_blocks(seed: int) -> None:
    design = random_build(seed)

    assert blocking(settled(seed)) - blocking(design) == set()


@pytest.mark.parametrize("seed", SEEDS)
def test_in_the_design_they_make_the_next_smaller_fails_or_a_policy_is_named(seed: int) -> None:
    after = settled(seed)

    for proposal in propose(after):
        assert proposal.gauge in ("", proposal.gauge_now) or not proposal.stands
        if proposal.stands and not proposal.policy:
            for refused in (proposal.next_gauge, proposal.next_rating):
                assert refused is None or not refused.check.passed
            # the smallest there is, or one below it that fails
            assert proposal.next_gauge is not None or proposal.gauge in ("18", "20", "22")


def test_a_build_of_many_circuits_settles_too() -> None:
    design = read_document(document_of(400))
    after = apply_changes(design, changes_of(propose(design)))

    assert changes_of(propose(after)) == ()
    assert blocking(after) - blocking(design) == set()
