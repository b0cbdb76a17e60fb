"""
Findings about a conductor and the device that protects it, of a circuit and of a run alike.

One thing wrong is said once: a conductor too thin for its load is not also told that its device is too large, and a device
below its load is not also told that it is loaded above the buyer's limit.
"""

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

from builds.engineering.assessing.circuit_results import Needs, gauge_for
from builds.engineering.assessing.devices import Device, breaks_a, device_at, stand_in
from builds.engineering.assessing.gauges import gauge_area_mm2, gauge_ohm_per_m
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.insulations import carrying_class_c, least_class_c
from builds.engineering.assessing.wires import Wire
from builds.engineering.assessing.words import (
    amperes,
    device_word,
    gauge_words,
    of_circuit,
    of_run,
    percent,
    share,
    temperature,
)
from builds.engineering.catalogue import found
from builds.engineering.design import Circuit, Run
from builds.engineering.electrical.protection import device_margin_severity
from builds.engineering.electrical.successors import next_families
from builds.engineering.findings import Change, Finding, Number, ProposedFix, Severity
from builds.engineering.vocabulary import GaugeBasis

__all__ = ["Guarded", "conductor_findings", "device_findings", "gauge_fix"]

_SAME = 1e-9


class Guarded(NamedTuple):
    """
    A conductor with its current and the device that protects it.

    ``device`` is its own, or what bounds its current where it has none, which ``device_of`` then names. ``sated`` works out,
    where it is starved beyond its drop limit, what it asks for once it has its voltage.
    """

    part: Circuit | Run
    wire: Wire
    device: Device | None
    device_of: str
    sizing_a: float
    continuous_a: float
    nominal_v: float
    needs: Needs
    prospective_a: float = 0.0  # the most that a device here may have to break
    sated: Callable[[], Needs] | None = None
    keeps_device: bool = False  # the vehicle maker's: a repair changes the conductor

    @property
    def subject(self) -> str:
        """The part as a finding's subject."""
        return f"circuit:{self.part.number}" if isinstance(self.part, Circuit) else f"run:{self.part.key}"

    @property
    def where(self) -> str:
        """The part as a sentence names it."""
        return of_circuit(self.part) if isinstance(self.part, Circuit) else of_run(self.part)

    @property
    def owns_device(self) -> bool:
        """Whether the device is its own, so that a repair may change it."""
        return self.device is not None and not self.device_of

    def device_words(self) -> str:
        """Say its rating: "15 A", or "100 A (run R2)" where it stands elsewhere."""
        assert self.device is not None
        return amperes(self.device.rating_a) + (f" ({self.device_of})" if self.device_of else "")


def conductor_findings(index: IndexedDesign, guarded: Guarded) -> Iterator[Finding]:
    """Yield what is wrong with a conductor for its load, its device and the shop's floor."""
    carried_a = guarded.wire.ampacity_a
    if carried_a is None:
        if guarded.wire.follows_temperature:
            yield _unknown_size(index, guarded)
        return
    if carried_a == 0.0 and (guarded.sizing_a > 0 or guarded.device is not None):
        yield _melts(index, guarded)
    elif guarded.sizing_a > carried_a * (1 + _SAME):
        yield found(
            "conductor-below-load", guarded.subject,
            numbers=(_amps("ampacity", carried_a), _amps("current", guarded.sizing_a)), fix=gauge_fix(index, guarded),
            words=_wire_words(index, guarded), bundle=str(index.bundle_of(guarded.part)), current=amperes(guarded.sizing_a),
        )  # fmt: skip
    elif guarded.device is not None:
        yield from _against_device(index, guarded, guarded.device, carried_a)
    yield from _below_floor(index, guarded)


def _melts(index: IndexedDesign, guarded: Guarded) -> Finding:
    """No gauge helps where the insulation may not be as hot as its place is; the fix keeps the gauge where it can."""
    margin, ambient_c = index.numbers["conductor-margin"], guarded.wire.ambient_c
    least_a = max(guarded.sizing_a, margin * guarded.device.rating_a if guarded.device is not None else 0.0)
    class_c, least_c = carrying_class_c(index, guarded.part, least_a), least_class_c(ambient_c)
    fix = None
    if class_c is not None:
        fix = ProposedFix(
            label=f"Use {temperature(class_c)} insulation", changes=(_change(guarded, "insulation_c", class_c),)
        )
    return found(
        "insulation-below-ambient", guarded.subject, fix=fix,
        numbers=(_amps("ampacity", 0.0), _amps("current", guarded.sizing_a)),
        where=guarded.where, insulation=temperature(guarded.part.insulation_c), ambient=temperature(ambient_c),
        current=amperes(guarded.sizing_a),
        remedy="Lead it a cooler way" if least_c is None else f"Use insulation of {temperature(least_c)} or more, or a cooler way",
    )  # fmt: skip


def _wire_words(index: IndexedDesign, guarded: Guarded) -> dict[str, str]:
    return {
        "where": guarded.where,
        "gauge": gauge_words(guarded.part.gauge, index.design.conventions),
        "ampacity": amperes(guarded.wire.ampacity_a or 0.0),
        "ambient": temperature(guarded.wire.ambient_c),
    }


def _unknown_size(index: IndexedDesign, guarded: Guarded) -> Finding:
    return found(
        "size-unknown", guarded.subject, fix=_neighbour_fix(index, guarded), where=guarded.where,
        gauge=gauge_words(guarded.part.gauge, index.design.conventions), basis=str(index.design.conventions.gauge_basis).upper(),
        insulation=temperature(guarded.part.insulation_c),
    )  # fmt: skip


def _against_device(index: IndexedDesign, guarded: Guarded, device: Device, carried_a: float) -> Iterator[Finding]:
    margin = index.numbers["conductor-margin"]
    severity = device_margin_severity(ampacity_a=carried_a, rating_a=device.rating_a, margin_ratio=margin)
    if severity is None:
        return
    ratio = carried_a / device.rating_a
    yield found(
        "device-above-conductor" if severity is Severity.BLOCKING else "conductor-below-margin", guarded.subject,
        numbers=(
            _amps("ampacity", carried_a),
            _amps("device", device.rating_a),
            Number(name="ratio", value=ratio, unit=""),
            Number(name="limit", value=margin, unit=""),
        ),
        fix=_smaller_device_fix(index, guarded, carried_a) or gauge_fix(index, guarded),
        words=_wire_words(index, guarded), device=guarded.device_words(), ratio=share(ratio), limit=share(margin),
    )  # fmt: skip


def _below_floor(index: IndexedDesign, guarded: Guarded) -> Iterator[Finding]:
    conventions, least_mm2 = index.design.conventions, index.least_area_mm2
    area_mm2 = gauge_area_mm2(conventions.gauge_basis, guarded.part.gauge)
    if area_mm2 < least_mm2 * (1 - _SAME):
        yield found(
            "conductor-below-minimum", guarded.subject,
            numbers=(Number(name="area", value=area_mm2, unit="mm²"), Number(name="limit", value=least_mm2, unit="mm²")),
            fix=gauge_fix(index, guarded), words=_wire_words(index, guarded), minimum=_floor_words(index),
        )  # fmt: skip


def _floor_words(index: IndexedDesign) -> str:
    """The buyer's smallest conductor as the rule writes it: a gauge, also in a metric build."""
    gauge, basis = index.texts["min-gauge"], index.design.conventions.gauge_basis
    own = gauge_ohm_per_m(basis, gauge) is not None
    return gauge_words(gauge, index.design.conventions) if own else f"{gauge} gauge SAE"


def device_findings(index: IndexedDesign, guarded: Guarded) -> Iterator[Finding]:
    """Yield what is wrong with a conductor's own device for its load, its place and its voltage."""
    device = guarded.device
    if device is None or not guarded.owns_device:
        return
    if device.family is None:
        yield found(
            "device-family-unknown", guarded.subject, fix=_known_family_fix(index, guarded, device),
            where=guarded.where, family=device.name or "(none)",
        )  # fmt: skip
    else:
        yield from _in_its_family(index, guarded, device)
    yield from _loading(index, guarded, device)


def _in_its_family(index: IndexedDesign, guarded: Guarded, device: Device) -> Iterator[Finding]:
    assert device.family is not None
    if device.rating_a not in device.ratings_a:
        larger = next((rating_a for rating_a in device.ratings_a if rating_a > device.rating_a), None)
        yield found(
            "device-not-standard", guarded.subject, fix=_rating_fix(index, guarded, larger),
            where=guarded.where, family=device.name, device=amperes(device.rating_a),
        )  # fmt: skip
    if guarded.nominal_v > device.family.rated_v:
        yield found(
            "device-voltage-low", guarded.subject, fix=_other_family_fix(index, guarded, device),
            numbers=(Number(name="rated", value=device.family.rated_v, unit="V"), Number(name="nominal", value=guarded.nominal_v, unit="V")),
            where=guarded.where, family=device.name, rated=f"{device.family.rated_v:g} V", nominal=f"{guarded.nominal_v:g} V",
        )  # fmt: skip


def _device_words(guarded: Guarded, device: Device) -> dict[str, str]:
    return {
        "where": guarded.where,
        "device": amperes(device.rating_a),
        "carries": amperes(device.carries_a),
        "ambient": temperature(device.ambient_c),
    }


def _carrying_fix(index: IndexedDesign, guarded: Guarded, device: Device) -> ProposedFix | None:
    """The smallest standard device that carries the load; of a starved one what it takes with the gauge that ends that."""
    fed = _fed_fix(index, guarded, device)
    if fed is not None:
        return fed
    rating_a = device.smallest_a(
        guarded.needs.continuous_a, guarded.needs.current_a, index.numbers["device-loading"], index.stocked_ratings_a
    )
    return _rating_fix(index, guarded, rating_a) if rating_a is not None else _other_family_fix(index, guarded, device)


def _fed_fix(index: IndexedDesign, guarded: Guarded, device: Device) -> ProposedFix | None:
    """The gauge that gives a starved load its voltage, with the device for what it then takes; None where it takes no less."""
    if guarded.sated is None:
        return None
    needs = guarded.sated()
    rating_a = device.smallest_a(
        needs.continuous_a, needs.current_a, index.numbers["device-loading"], index.stocked_ratings_a
    )
    if rating_a is None or needs.current_a >= guarded.sizing_a * (1 - _SAME):
        return None
    other = device_at(device.name, rating_a, device.ambient_c)
    gauge, _ = gauge_for(index, guarded.wire, needs, other)
    if not gauge or gauge == guarded.part.gauge:
        return None
    words = gauge_words(gauge, index.design.conventions)
    if rating_a <= device.rating_a:  # the device is enough then
        return ProposedFix(label=f"Use {words}", changes=(_change(guarded, "gauge", gauge),))
    changes = (_change(guarded, "device_rating_a", rating_a), _change(guarded, "gauge", gauge))
    return ProposedFix(label=f"Use {amperes(rating_a)} and {words}", changes=changes)


def _other_family_fix(index: IndexedDesign, guarded: Guarded, device: Device) -> ProposedFix | None:
    """The same or the next rating of the nearest family that has one, bears this voltage and breaks what this one must."""
    must_a = min(guarded.prospective_a, breaks_a(device.name, guarded.nominal_v) or guarded.prospective_a)
    for family in next_families(device.name):
        other = device_at(family.key, device.rating_a, device.ambient_c)
        least_a = other.smallest_a(
            guarded.needs.continuous_a,
            guarded.needs.current_a,
            index.numbers["device-loading"],
            index.stocked_ratings_a,
        )
        capacity_a = breaks_a(family.key, guarded.nominal_v)
        if least_a is None or family.rated_v < guarded.nominal_v or capacity_a is None or capacity_a < must_a:
            continue
        keeps = device.rating_a >= least_a and index.on_shelf(other.ratings_a, device.rating_a, device.rating_a)
        fix = _rating_fix(index, guarded, device.rating_a if keeps else least_a, family.key)
        if fix is not None:
            return fix
    return None


def _known_family_fix(index: IndexedDesign, guarded: Guarded, device: Device) -> ProposedFix | None:
    """The same or the next rating, enough for the load, in a family whose figures are known."""
    other = stand_in(device, guarded.nominal_v, guarded.prospective_a)
    if other is None or guarded.keeps_device:
        return None
    needs = guarded.needs
    least_a = other.smallest_a(
        needs.continuous_a, needs.current_a, index.numbers["device-loading"], index.stocked_ratings_a
    )
    fitting = index.on_shelf(other.ratings_a, max(least_a, device.rating_a), math.inf) if least_a is not None else []
    return _rating_fix(index, guarded, fitting[0], other.name) if fitting else None


def _loading(index: IndexedDesign, guarded: Guarded, device: Device) -> Iterator[Finding]:
    limit = index.numbers["device-loading"]
    if guarded.sizing_a > device.carries_a * (1 + _SAME):
        yield found(
            "device-below-load", guarded.subject,
            numbers=(_amps("carries", device.carries_a), _amps("current", guarded.sizing_a)),
            fix=_carrying_fix(index, guarded, device), current=amperes(guarded.sizing_a), words=_device_words(guarded, device),
        )  # fmt: skip
    elif guarded.continuous_a > limit * device.carries_a * (1 + _SAME):
        loading = guarded.continuous_a / device.carries_a
        yield found(
            "device-loading-exceeded", guarded.subject,
            numbers=(_amps("continuous", guarded.continuous_a), _amps("carries", device.carries_a), Number(name="limit", value=limit, unit="")),
            fix=_carrying_fix(index, guarded, device), current=amperes(guarded.continuous_a), loading=percent(loading), limit=percent(limit),
            words=_device_words(guarded, device),
        )  # fmt: skip


def gauge_fix(index: IndexedDesign, guarded: Guarded) -> ProposedFix | None:
    """The smallest gauge that every rule lets through behind the device as it is; None where there is none."""
    gauge = _gauge_behind(index, guarded, guarded.device)
    if not gauge or gauge == guarded.part.gauge:
        return None
    return ProposedFix(
        label=f"Use {gauge_words(gauge, index.design.conventions)}", changes=(_change(guarded, "gauge", gauge),)
    )


def _smaller_device_fix(index: IndexedDesign, guarded: Guarded, carried_a: float) -> ProposedFix | None:
    """The largest standard device that the conductor stands behind, where it still carries the load."""
    device, loading_ratio = guarded.device, index.numbers["device-loading"]
    if device is None or device.family is None or not guarded.owns_device or guarded.keeps_device:
        return None
    least_a = device.smallest_a(
        guarded.needs.continuous_a, guarded.needs.current_a, loading_ratio, index.stocked_ratings_a
    )
    most_a = carried_a / max(index.numbers["conductor-margin"], _SAME)
    fitting = index.on_shelf(device.ratings_a, least_a, most_a)
    if not fitting or fitting[-1] >= device.rating_a:
        return None
    change = _change(guarded, "device_rating_a", fitting[-1])
    return ProposedFix(label=f"Use {amperes(fitting[-1])}", changes=(change,))


def _rating_fix(
    index: IndexedDesign, guarded: Guarded, rating_a: float | None, family: str | None = None
) -> ProposedFix | None:
    """Another device, and with it the gauge that it asks for; None where no conductor stands behind that device."""
    device = guarded.device
    if device is None or rating_a is None or (rating_a == device.rating_a and family is None):
        return None
    changes = [] if rating_a == device.rating_a else [_change(guarded, "device_rating_a", rating_a)]
    label = f"Use {amperes(rating_a)}"
    if family is not None:
        changes.append(_change(guarded, "device_family", family))
        label = f"Use a {amperes(rating_a)} {device_word(family)}"
    other = device_at(family or device.name, rating_a, device.ambient_c)
    carried_a, margin = guarded.wire.ampacity_a, index.numbers["conductor-margin"]
    thin = carried_a is None or carried_a < margin * rating_a * (1 - _SAME)
    enough, _ = gauge_for(index, guarded.wire, guarded.needs._replace(most_drop_ohm=math.inf), other)
    if not enough:
        return None
    if thin or guarded.wire.choice.row_of[enough] > (guarded.wire.row or 0):  # also where its far end asks for more
        gauge = _gauge_behind(index, guarded, other)
        changes.append(_change(guarded, "gauge", gauge))
        label += f" and {gauge_words(gauge, index.design.conventions)}"
    return ProposedFix(label=label, changes=tuple(changes))


def _gauge_behind(index: IndexedDesign, guarded: Guarded, device: Device | None) -> str:
    """The smallest gauge that every rule lets through behind a device; where none keeps the drop, one that carries the current."""
    gauge, _ = gauge_for(index, guarded.wire, guarded.needs, device)
    return gauge or gauge_for(index, guarded.wire, guarded.needs._replace(most_drop_ohm=math.inf), device)[0]


def _neighbour_fix(index: IndexedDesign, guarded: Guarded) -> ProposedFix | None:
    """The next thicker size that the tables have, or a thicker one still where the rules ask for it."""
    choice, row = guarded.wire.choice, _next_thicker(index.design.conventions.gauge_basis, guarded)
    gauge = _gauge_behind(index, guarded, guarded.device)
    if row is None:
        return gauge_fix(index, guarded)
    least = max(row, choice.row_of[gauge] if gauge else 0)
    stocked = index.stocked_gauges
    gauge = next((name for name in choice.gauges[least:] if stocked is None or name in stocked), "")
    if not gauge:
        return None
    return ProposedFix(
        label=f"Use {gauge_words(gauge, index.design.conventions)}", changes=(_change(guarded, "gauge", gauge),)
    )


def _next_thicker(basis: GaugeBasis, guarded: Guarded) -> int | None:
    """The row of the first size not thinner than a label that no table has; None where the label says no size."""
    wanted = _thickness(basis, guarded.part.gauge)
    if wanted is None:
        return None
    rows = enumerate(_thickness(basis, gauge) for gauge in guarded.wire.choice.gauges)
    return next((row for row, thickness in rows if thickness is not None and thickness >= wanted), None)


def _thickness(basis: GaugeBasis, gauge: str) -> float | None:
    """A figure that rises with thickness: square millimetres, or gauge numbers counted down past 1/0."""
    number, _, rest = gauge.partition("/")
    try:
        if basis is GaugeBasis.METRIC:
            return float(gauge)
        return float(int(number) - 1) if rest == "0" else -float(int(number)) if not rest else None
    except ValueError:
        return None


def _change(guarded: Guarded, field: str, value: str | float) -> Change:
    return Change(subject=guarded.subject, field=field, value=value)


def _amps(name: str, current_a: float) -> Number:
    return Number(name=name, value=current_a, unit="A")
