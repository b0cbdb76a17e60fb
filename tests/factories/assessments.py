"""An assessment written by hand for drawing and printing: figures follow a simple rule, not the core."""

from decimal import Decimal

from builds.engineering.assessment import (
    AlternatorUse,
    Assessment,
    CircuitResult,
    ConditionResult,
    EnergyResult,
    LabourResult,
    PanelResult,
    PriceResult,
    RunResult,
    WeightResult,
)
from builds.engineering.design import Circuit, Design
from builds.engineering.findings import Finding, Severity

__all__ = ["sample_assessment"]


def sample_assessment(design: Design) -> Assessment:
    """Return figures for every circuit, run, panel and condition, and one finding of each weight."""
    return Assessment(
        engine_version="test", tables=("sae_areas",), conditions=_conditions(design),
        circuits=tuple(_circuit(circuit, index) for index, circuit in enumerate(design.circuits)),
        runs=tuple(
            RunResult(key=run.key, mean_a=12.5 + 7.4 * index, continuous_a=20, peak_a=30, drop_v=0.1, ampacity_a=120,
                      prospective_a=2400, worst_condition="scene")
            for index, run in enumerate(design.runs)
        ),
        panels=tuple(
            PanelResult(key=node.key, positions_used=7, positions=node.panel.positions, continuous_a=40.2, feed_drop_ratio=0.021)
            for node in design.nodes if node.panel
        ),
        energy=EnergyResult(key_off_ma=31, key_off_limit_ma=35, key_off_days=21),
        labour=LabourResult(crew_h=61.5, elapsed_h=40, by_phase=(("wire", 20.0),), by_place=(("vehicle", 26.0),), by_skill=()),
        weight=WeightResult(added_kg=903, payload_left_kg=308, front_axle_kg=1990, rear_axle_kg=2190, gvwr_kg=4990,
                            gawr_front_kg=2360, gawr_rear_kg=3100, label_threshold_kg=45.4),
        price=PriceResult(parts=Decimal("31200.00"), labour=Decimal("6765.00"), tax=Decimal("0.00"), total=Decimal("37965.00")),
        findings=_findings(design),
    )  # fmt: skip


def _circuit(circuit: Circuit, index: int) -> CircuitResult:
    return CircuitResult(
        number=circuit.number, mean_a=1.2 + index % 7, continuous_a=1.4 + index % 7, peak_a=2 + index % 9, drop_v=0.3,
        drop_ratio=0.024 + 0.002 * (index % 9), drop_limit_ratio=0.05, drop_base_v=12, drop_rule="drop-general",
        worst_condition="scene", load_v=12.7, ampacity_a=25, prospective_a=800, far_end_fault_a=190,
        proposed_gauge=circuit.gauge, proposed_rating_a=circuit.device_rating_a, deciding_rule="drop",
    )  # fmt: skip


def _conditions(design: Design) -> tuple[ConditionResult, ...]:
    return tuple(
        ConditionResult(
            key=condition.key, name=condition.name, mean_a=113.9 - 30 * index, rms_a=120.3 - 30 * index, peak_a=168.0 - 30 * index,
            source=AlternatorUse(available_a=118, margin_a=4.1, estimate=True) if index == 0 else None,
            battery_h=None if index == 0 else 27.3, min_hours=condition.min_hours, lowest_load_v=12.1, lowest_load_key="L101",
        )
        for index, condition in enumerate(design.conditions)
    )  # fmt: skip


def _findings(design: Design) -> tuple[Finding, ...]:
    found = [
        Finding(id="stud-shared", severity=Severity.CAUTION, subject="node:BAT2", message="Two returns on one stud."),
        Finding(id="spare-positions", severity=Severity.NOTE, subject="node:P2", message="One spare position left."),
    ]  # fmt: skip
    if len(design.circuits) > 2:
        number = design.circuits[2].number
        found.append(Finding(id="drop-over-limit", severity=Severity.BLOCKING, subject=f"circuit:{number}",
                             message="Drops 5.5 %. This buyer allows 5.0 %."))  # fmt: skip
    if any(run.device_rating_a for run in design.runs):
        key = next(run.key for run in design.runs if run.device_rating_a)
        found.append(Finding(id="device-far-from-source", severity=Severity.CAUTION, subject=f"run:{key}",
                             message="The device sits 0.8 m from its source."))  # fmt: skip
    return tuple(sorted(found, key=lambda finding: finding.sort_key))
