"""
Rows into the frozen values of the core: the one place where a working design crosses over.

``design_of`` asks a fixed number of questions of the database, however many circuits there are.
"""

from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

from builds import models
from builds.engineering import design as core
from builds.engineering import vocabulary as words
from builds.engineering.document.assemble import part_of
from builds.selectors.bare_records import Found, optional, records
from builds.selectors.platform_inputs import platform_of

__all__ = ["PART_OF_ROW", "buyer_of", "design_of", "platform_of", "vehicle_of"]


def design_of(build: models.Build) -> core.Design:
    """Return the working design of ``build`` as the core takes it."""
    return core.Design(
        number=build.number,
        title=build.title,
        kind=words.BuildKind(build.kind),
        purchase_order=build.purchase_order,
        conventions=core.Conventions(
            units=words.UnitSystem(build.units),
            gauge_basis=words.GaugeBasis(build.gauge_basis),
            driver_side=words.VehicleSide(build.driver_side),
            wire_colour_scheme=build.wire_colour_scheme,
        ),
        buyer=buyer_of(build.customer, build.profile),
        vehicle=vehicle_of(build.vehicle),
        platform=platform_of(build.platform),
        nodes=tuple(map(_node, records(build.nodes.all()))),
        runs=tuple(map(_run, records(build.runs.all(), from_node="key", to_node="key"))),
        circuits=tuple(map(_circuit, records(build.circuits.all(), panel="key", return_node="key"))),
        loads=tuple(map(_load, records(build.loads.all(), circuit="number", shed_step="key"))),
        conditions=tuple(map(_condition, _conditions_with_uses(build))),
        operations=tuple(map(_operation, records(build.operations.all()))),
        parts=tuple(map(_part, records(build.parts.all(), part="number"))),
        function_schedule=_function_schedule(build),
        shed_steps=tuple(map(_shed_step, records(build.shed_steps.all(), battery="key"))),
        duty_profiles=tuple(map(_duty_profile, records(build.duty_profiles.all()))),
        duty_segments=tuple(map(_duty_segment, records(build.duty_segments.all(), profile="key", condition="key"))),
    )


def _function_schedule(build: models.Build) -> str:
    return models.FunctionSchedule.objects.filter(build=build).values_list("text", flat=True).first() or ""


def _conditions_with_uses(build: models.Build) -> Iterator[Any]:
    uses: dict[int, list[SimpleNamespace]] = {}
    rows = models.LoadUse.objects.filter(condition__build=build).order_by("line", "pk")
    for condition_id, load, duty_ratio in rows.values_list("condition_id", "load__key", "duty_ratio"):
        uses.setdefault(condition_id, []).append(SimpleNamespace(load=SimpleNamespace(key=load), duty_ratio=duty_ratio))
    for record in records(build.conditions.all()):
        record.uses = Found(uses.get(record.id, []))
        yield record


def buyer_of(customer: models.Customer, profile: models.BuyerProfile) -> core.Buyer:
    """Return a customer's name with the rules of a profile."""
    return core.Buyer(
        customer=customer.name,
        profile=profile.name,
        rules=tuple(
            core.BuyerRule(
                key=rule.key,
                value=rule.text_value if rule.number_value is None else float(rule.number_value),
                source=rule.source,
            )
            for rule in records(profile.rules.all())
        ),
        drop_rules=tuple(
            core.DropRule(
                key=rule.key,
                drop_class=rule.drop_class,
                limit_ratio=float(rule.limit_ratio),
                base_v=float(rule.base_v),
                current=words.DropCurrent(rule.current),
                conductor_temp_c=float(rule.conductor_temp_c),
                source=rule.source,
                from_node=rule.from_node,
                to_node=rule.to_node,
                conditions=tuple(rule.conditions),
                follows_bus=rule.follows_bus,
            )
            for rule in records(profile.drop_rules.all())
        ),
    )


def vehicle_of(row: models.Vehicle) -> core.Vehicle:
    """Return what a build says of its vehicle."""
    return core.Vehicle(
        vin=row.vin,
        vin_exception=row.vin_exception,
        unit_number=row.unit_number,
        model_year=row.model_year,
        sold_before=row.sold_before,
    )


def _node(row: models.PowerNode) -> core.PowerNode:
    return core.PowerNode(
        key=row.key,
        kind=words.NodeKind(row.kind),
        name=row.name,
        zone=row.zone,
        nominal_v=float(row.nominal_v),
        rating_a=optional(row.rating_a),
        resistance_mohm=float(row.resistance_mohm),
        chassis=row.chassis,
        battery=_battery(row),
        alternator=_alternator(row),
        panel=_panel(row),
        source=_source(row),
        converter=_converter(row),
        access_point=row.access_point,
        metal=row.metal,
        isolator=words.IsolatorKind(row.isolator),
        forward_v=optional(row.forward_v),
    )


def _battery(row: models.PowerNode) -> core.BatterySpec | None:
    if row.battery_capacity_ah is None:
        return None
    # The check constraint of the table holds a battery's figures together.
    assert row.battery_rated_hours is not None and row.battery_peukert_exponent is not None
    assert row.battery_internal_mohm is not None and row.battery_open_circuit_v is not None
    assert row.battery_usable_ratio is not None
    return core.BatterySpec(
        capacity_ah=float(row.battery_capacity_ah),
        rated_hours=float(row.battery_rated_hours),
        peukert_exponent=float(row.battery_peukert_exponent),
        internal_mohm=float(row.battery_internal_mohm),
        open_circuit_v=float(row.battery_open_circuit_v),
        usable_ratio=float(row.battery_usable_ratio),
        reserve_min=optional(row.battery_reserve_min),
        acceptance_per_h=optional(row.battery_acceptance_per_h),
        least_charge_c=optional(row.battery_least_charge_c),
        cut_off_v=optional(row.battery_cut_off_v),
        self_discharge_per_day_ratio=optional(row.battery_self_discharge_per_day_ratio),
        kind=words.BatteryKind(row.battery_kind),
    )


def _alternator(row: models.PowerNode) -> core.AlternatorSpec | None:
    if row.alternator_rated_a is None:
        return None
    assert row.alternator_idle_ratio is not None and row.alternator_speed_ratio is not None
    return core.AlternatorSpec(
        rated_a=float(row.alternator_rated_a),
        idle_ratio=float(row.alternator_idle_ratio),
        speed_ratio=float(row.alternator_speed_ratio),
        low_v=optional(row.alternator_low_v),
        high_v=optional(row.alternator_high_v),
        pulley_ratio=optional(row.alternator_pulley_ratio),
        points=tuple(
            core.AlternatorPoint(speed_rpm=float(speed), ambient_c=float(ambient), output_a=float(output))
            for speed, ambient, output in row.alternator_points
        ),
    )


def _source(row: models.PowerNode) -> core.SourceSpec | None:
    if row.source_limit_a is None:
        return None
    assert row.source_low_v is not None and row.source_high_v is not None
    return core.SourceSpec(
        limit_a=float(row.source_limit_a), low_v=float(row.source_low_v), high_v=float(row.source_high_v)
    )


def _converter(row: models.PowerNode) -> core.ConverterSpec | None:
    if row.converter_output_v is None:
        return None
    assert row.converter_limit_a is not None and row.converter_efficiency_ratio is not None
    return core.ConverterSpec(
        output_v=float(row.converter_output_v),
        limit_a=float(row.converter_limit_a),
        efficiency_ratio=float(row.converter_efficiency_ratio),
        return_node=row.converter_return_node,
        idle_w=float(row.converter_idle_w or 0),
        min_v=float(row.converter_min_v or 0),
    )


def _panel(row: models.PowerNode) -> core.PanelSpec | None:
    if row.panel_positions is None:
        return None
    return core.PanelSpec(
        positions=row.panel_positions, columns=row.panel_columns or row.panel_positions, hinge=row.panel_hinge
    )


def _run(row: models.Run) -> core.Run:
    return core.Run(
        key=row.key,
        from_node=row.from_node.key,
        to_node=row.to_node.key,
        side=words.RunSide(row.side),
        gauge=row.gauge,
        length_m=float(row.length_m),
        insulation_c=float(row.insulation_c),
        parallel=row.parallel,
        bundle=row.bundle,
        zones=tuple(row.zones),
        device_family=row.device_family,
        device_rating_a=optional(row.device_rating_a),
        device_distance_m=float(row.device_distance_m),
        resistance_mohm=optional(row.resistance_mohm),
        makers_own=row.makers_own,
        bundle_name=row.bundle_name,
        device_at_both_ends=row.device_at_both_ends,
    )


def _circuit(row: models.Circuit) -> core.Circuit:
    return core.Circuit(
        number=row.number,
        legend=row.legend,
        panel=row.panel.key,
        position=row.position,
        device_family=row.device_family,
        device_rating_a=float(row.device_rating_a),
        gauge=row.gauge,
        length_m=float(row.length_m),
        return_node=row.return_node.key,
        return_length_m=float(row.return_length_m),
        colour=row.colour,
        insulation_c=float(row.insulation_c),
        bundle=row.bundle,
        zones=tuple(row.zones),
        bundle_name=row.bundle_name,
    )


def _load(row: models.Load) -> core.Load:
    return core.Load(
        key=row.key,
        circuit=row.circuit.number,
        name=row.name,
        zone=row.zone,
        model=words.LoadModel(row.model),
        current_a=float(row.current_a),
        at_v=float(row.at_v),
        quantity=row.quantity,
        duty_ratio=float(row.duty_ratio),
        can_be_steady=row.can_be_steady,
        continuous=row.continuous,
        inrush_a=float(row.inrush_a),
        min_v=float(row.min_v),
        key_off_a=float(row.key_off_a),
        drop_class=row.drop_class,
        max_v=optional(row.max_v),
        switching=words.Switching(row.switching),
        shed_step=(row.shed_step.key or "") if row.shed_step else "",
        never_shed=row.never_shed,
        run_on_min=float(row.run_on_min),
        jump_v=optional(row.jump_v),
        reversed_battery=words.ReversedBattery(row.reversed_battery),
        suppression=words.Suppression(row.suppression),
        other_return=row.other_return,
    )


def _condition(row: models.OperatingCondition) -> core.OperatingCondition:
    return core.OperatingCondition(
        key=row.key,
        name=row.name,
        source_state=words.SourceState(row.source_state),
        source_low_v=float(row.source_low_v),
        source_high_v=float(row.source_high_v),
        min_hours=optional(row.min_hours),
        uses=tuple(core.LoadUse(load=use.load.key, duty_ratio=optional(use.duty_ratio)) for use in row.uses.all()),
        input_settings=tuple(core.InputSetting(input=one["input"], value=one["value"]) for one in row.input_settings),
        engine_rpm=row.engine_rpm,
        ambient_c=optional(row.ambient_c),
        open_nodes=tuple(row.open_nodes),
        closed_nodes=tuple(row.closed_nodes),
        sources=tuple(part_of(core.SourceUse, use) for use in row.sources),
        reserve_test_min=optional(row.reserve_test_min),
    )


def _shed_step(row: models.ShedStep) -> core.ShedStep:
    return core.ShedStep(
        key=row.key,
        name=row.name,
        off_below_v=float(row.off_below_v),
        on_above_v=float(row.on_above_v),
        off_delay_s=float(row.off_delay_s),
        on_delay_s=float(row.on_delay_s),
        battery=(row.battery.key or "") if row.battery else "",
        ignores_crank=row.ignores_crank,
    )


def _duty_profile(row: models.DutyProfile) -> core.DutyProfile:
    return core.DutyProfile(
        key=row.key,
        name=row.name,
        start_ratio=float(row.start_ratio),
        battery_c=float(row.battery_c),
        crank_a=optional(row.crank_a),
        crank_s=optional(row.crank_s),
        crank_least_v=optional(row.crank_least_v),
        crank_cable_mohm=optional(row.crank_cable_mohm),
    )


def _duty_segment(row: models.DutySegment) -> core.DutySegment:
    return core.DutySegment(
        key=row.key,
        profile=row.profile.key,
        condition=row.condition.key,
        duration_min=float(row.duration_min),
        engine_stops=row.engine_stops,
        stop_s=float(row.stop_s),
    )


def _operation(row: models.Operation) -> core.Operation:
    return core.Operation(
        key=row.key,
        name=row.name,
        place=words.Place(row.place),
        phase=words.Phase(row.phase),
        skill=row.skill,
        standard_h=float(row.standard_h),
        quantity=row.quantity,
        crew=row.crew,
        after=tuple(row.after),
    )


def _part(row: models.PartsBillLine) -> core.PartsBillLine:
    return core.PartsBillLine(
        key=row.key,
        part_number=row.part.number,
        description=row.description,
        quantity=float(row.quantity),
        unit=row.unit,
        zone=row.zone,
        installed_by=row.installed_by,
        supplied_by=words.SuppliedBy(row.supplied_by),
        unit_cost=float(row.unit_cost),
        unit_price=float(row.unit_price),
        taxed=row.taxed,
        mass_kg=float(row.mass_kg),
        serial_required=row.serial_required,
        programmable=row.programmable,
        removed=row.removed,
    )


PART_OF_ROW: dict[str, Callable[[Any], Any]] = {
    "node": _node,
    "run": _run,
    "circuit": _circuit,
    "load": _load,
    "condition": _condition,
    "shed": _shed_step,
    "duty": _duty_profile,
    "segment": _duty_segment,
    "operation": _operation,
    "part": _part,
}
