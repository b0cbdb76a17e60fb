"""Findings about bundles: counts typed too low, loads left out of a count, wires that share a way and were never counted."""

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from builds.engineering.assessing.bundles import Bundle, Laid
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.words import listing, of_condition
from builds.engineering.catalogue import found
from builds.engineering.design import Circuit
from builds.engineering.findings import Change, Finding, Number, ProposedFix

__all__ = ["bundle_findings"]

_FEW = 3  # so many alone already have the table's next factor; fewer are not worth a word


def bundle_findings(index: IndexedDesign) -> Iterator[Finding]:
    """Yield the findings about bundles."""
    for bundle in index.bundles.values():
        yield from _typed_low(bundle)
        if bundle.left_out:
            yield _left_out(index, bundle)
    yield from _never_counted(index)


def _typed_low(bundle: Bundle) -> Iterator[Finding]:
    """Said once a bundle; the count 1 is what nobody typed."""
    low = [one for one in (*bundle.laid, *bundle.left_out) if 1 < one.part.bundle < bundle.together]
    if low:
        fix = ProposedFix(
            label=f"Count {bundle.together}",
            changes=tuple(Change(subject=one.subject, field="bundle", value=bundle.together) for one in low),
        )
        numbers = (
            Number(name="drawn", value=bundle.together, unit="1"),
            Number(name="typed", value=low[0].part.bundle, unit="1"),
        )
        yield found(
            "bundle-count-low", low[0].subject, numbers=numbers, fix=fix, bundle=bundle.name, parts=_names(low),
            typed=str(min(one.part.bundle for one in low)), drawn=str(bundle.together),
        )  # fmt: skip


def _left_out(index: IndexedDesign, bundle: Bundle) -> Finding:
    numbers = (
        Number(name="counted", value=bundle.together, unit="1"),
        Number(name="left out", value=sum(one.count for one in bundle.left_out), unit="1"),
    )
    return found(
        "bundle-loads-left-out", bundle.left_out[0].subject, numbers=numbers, bundle=bundle.name, counted=str(bundle.together),
        parts=_names(bundle.left_out), condition=of_condition(index.conditions[bundle.condition]),
    )  # fmt: skip


def _names(laid: list[Laid] | tuple[Laid, ...]) -> str:
    circuits = tuple(one.part.number for one in laid if isinstance(one.part, Circuit))
    runs = tuple(one.part.key for one in laid if not isinstance(one.part, Circuit))
    words = [f"circuit{'s' if len(circuits) > 1 else ''} {listing(circuits)}"] if circuits else []
    words += [f"run{'s' if len(runs) > 1 else ''} {listing(runs)}"] if runs else []
    return " and ".join(words)


def _never_counted(index: IndexedDesign) -> Iterator[Finding]:
    """Said once a build, of the way between two zones that most circuits take which are in no bundle and count as alone."""
    alone = [
        circuit for circuit in index.design.circuits if circuit.bundle == 1 and index.bundle_named(circuit) is None
    ]
    on_way = Counter(
        way
        for circuit in alone
        for way in {tuple(sorted(pair)) for pair in pairwise(circuit.zones) if pair[0] != pair[1]}
    )
    if not on_way:
        return
    way, count = max(on_way.items(), key=lambda item: (item[1], item[0]))
    if count >= _FEW:
        yield found(
            "bundle-not-counted", "build", numbers=(Number(name="circuits", value=count, unit="1"),), count=str(count),
            zones=listing(tuple(index.zone_name(zone) for zone in way)),
        )  # fmt: skip
