"""What everything that charges gives at most in a condition, and which batteries take part in that."""

from collections.abc import Mapping, Sequence

import numpy as np

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.settings import source_uses
from builds.engineering.assessing.topology import Feeding, Floats
from builds.engineering.design import AlternatorSpec, OperatingCondition, PowerNode
from builds.engineering.electrical.alternator import (
    AlternatorOutput,
    OutputCurve,
    OutputPoint,
    estimated_output,
    output_at,
)
from builds.engineering.vocabulary import SourceState

__all__ = ["available_output", "charged_rows", "curve_lacks", "output_of_rating", "outputs_of"]

_HOT_C = 93.0  # 200 °F under the hood: KKK-A-1822, from which fire-service rules take it


def outputs_of(
    index: IndexedDesign, feeding: Feeding, condition: OperatingCondition
) -> dict[str, list[AlternatorOutput]]:
    """Return what the sources with figures give in a condition, by the battery they charge; converters have none."""
    return {
        battery: [output for key in keys if (output := available_output(condition, index.nodes[key])) is not None]
        for battery, keys in feeding.chargers.items()
    }


def charged_rows(index: IndexedDesign, outputs: Mapping[str, Sequence[AlternatorOutput]]) -> Floats:
    """
    Return 1 for each battery (the design's order) that a source with figures charges.

    A battery that only a converter charges is a load on the one behind it.
    """
    return np.array([bool(outputs.get(battery.key)) for battery in index.batteries()], dtype=np.float64)


def available_output(condition: OperatingCondition, source: PowerNode) -> AlternatorOutput | None:
    """
    Return what a source that charges gives at most in a condition; None where it has no figures.

    What the condition says of it comes first. An alternator is read from its maker's curve where the condition states the
    engine speed, at 93 °C unless it states the temperature too; else it is its hot part of the rating, an estimate, and never
    more than what its curve has: the least hot point where the engine idles, the most at road speed.
    """
    use, spec = source_uses(condition).get(source.key), source.alternator
    if use is not None and use.limit_a is not None:
        return AlternatorOutput(available_a=use.limit_a, estimate=False)
    if source.source is not None:
        return AlternatorOutput(available_a=source.source.limit_a, estimate=False)
    if spec is None:
        return None
    if spec.pulley_ratio is not None and condition.engine_rpm is not None and spec.points:
        return output_at(
            curves=_curves(spec),
            ambient_c=_HOT_C if condition.ambient_c is None else condition.ambient_c,
            engine_rpm=float(condition.engine_rpm),
            pulley_ratio=spec.pulley_ratio,
        )
    return output_of_rating(spec, idle=condition.source_state is not SourceState.AT_SPEED)


def output_of_rating(spec: AlternatorSpec, *, idle: bool) -> AlternatorOutput:
    """Return what an alternator gives hot at idle or at road speed by its rating, no more than its curve has there: an estimate."""
    estimate = estimated_output(rated_a=spec.rated_a, output_ratio=spec.idle_ratio if idle else spec.speed_ratio)
    if not spec.points:
        return estimate
    hottest_c = max(point.ambient_c for point in spec.points)
    hot_a = [point.output_a for point in spec.points if point.ambient_c == hottest_c]
    return AlternatorOutput(available_a=min(estimate.available_a, min(hot_a) if idle else max(hot_a)), estimate=True)


def curve_lacks(condition: OperatingCondition, source: PowerNode) -> tuple[str, ...]:
    """Return what is missing to read an alternator's curve in a condition; nothing where it is read, or not asked for."""
    use, spec = source_uses(condition).get(source.key), source.alternator
    if spec is None or not spec.points or (use is not None and use.limit_a is not None):
        return ()
    lacks = (("its pulley ratio", spec.pulley_ratio), ("the condition's engine speed", condition.engine_rpm))
    return tuple(words for words, value in lacks if value is None)


def _curves(spec: AlternatorSpec) -> list[OutputCurve]:
    at: dict[float, list[OutputPoint]] = {}
    for point in sorted(spec.points, key=lambda point: point.speed_rpm):
        at.setdefault(point.ambient_c, []).append(OutputPoint(speed_rpm=point.speed_rpm, output_a=point.output_a))
    return [OutputCurve(ambient_c=ambient_c, points=points) for ambient_c, points in at.items()]
