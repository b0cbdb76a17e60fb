"""
Fields that came after the first published form: left out of the canonical text while they hold their default.

So a build that uses none of them keeps its text and its hash, and a frozen document says today what it said when it was
frozen. A reader that does not know a field refuses it by name, so none is passed over unseen.
"""

from builds.engineering.document.shape import FieldShape

__all__ = ["ADDED_FIELDS", "is_left_out"]

ADDED_FIELDS: frozenset[str] = frozenset(
    {
        "AccessPoint.device_family",
        "AccessPoint.gauge",
        "AccessPoint.source",
        "AlternatorSpec.points",
        "Circuit.bundle_name",
        "BatterySpec.kind",
        "DropRule.conditions",
        "DropRule.follows_bus",
        "DropRule.from_node",
        "DropRule.to_node",
        "Design.duty_profiles",
        "Design.duty_segments",
        "Design.function_schedule",
        "Design.shed_steps",
        "Load.never_shed",
        "Load.other_return",
        "Load.reversed_battery",
        "Load.run_on_min",
        "Load.shed_step",
        "Load.suppression",
        "Load.switching",
        "OperatingCondition.closed_nodes",
        "OperatingCondition.input_settings",
        "OperatingCondition.open_nodes",
        "OperatingCondition.sources",
        "Platform.access_points",
        "Platform.fuel_kg",
        "Platform.fuel_x_mm",
        "Platform.jump_order",
        "Platform.jump_posts",
        "Platform.seat_places",
        "PowerNode.access_point",
        "PowerNode.isolator",
        "PowerNode.metal",
        "Run.bundle_name",
        "Run.device_at_both_ends",
        "Run.makers_own",
    }
)


def is_left_out(shape: FieldShape, value: object) -> bool:
    """Tell whether a field has nothing to say in the canonical text."""
    return value is None or (f"{shape.owner}.{shape.name}" in ADDED_FIELDS and value == shape.default)
