"""The rules of a buyer profile as a page shows them: the profile's own beside the shop's defaults."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from builds.engineering.buyer_rules import DEFAULT_DROP_RULES, RULES
from builds.models import BuyerProfile

__all__ = ["DropRuleRow", "RuleRow", "drop_rule_rows", "rule_rows", "stretch_words"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleRow:
    """One rule; ``row_version`` is 0 where the shop's default holds."""

    key: str
    name: str
    value: str
    unit: str
    source: str
    default: str
    is_own: bool
    row_version: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DropRuleRow:
    """One drop rule, its limit as a part of its base voltage."""

    key: str
    drop_class: str
    who: str
    limit_ratio: Decimal
    base_v: Decimal
    current: str
    conductor_temp_c: Decimal
    source: str
    is_own: bool
    row_version: int
    from_node: str
    to_node: str
    conditions: str
    follows_bus: bool

    @property
    def base(self) -> str:
        """The voltage the limit is a part of."""
        return "its bus" if self.follows_bus else f"{float(self.base_v):g}"

    @property
    def stretch(self) -> str:
        """Between where it is counted, and when."""
        return stretch_words(self.from_node, self.to_node, self.conditions)

    @property
    def is_general(self) -> bool:
        """Whether it is the one that every profile has."""
        return self.drop_class == "*" and not (self.from_node or self.to_node or self.conditions)

    @property
    def temperature(self) -> str:
        """The conductor's temperature."""
        return f"{float(self.conductor_temp_c):g}"

    @property
    def limit(self) -> str:
        """The limit in percent."""
        return f"{self.limit_ratio * 100:.2f}".rstrip("0").rstrip(".")


def rule_rows(profile: BuyerProfile) -> list[RuleRow]:
    """Return every rule of the catalogue as it holds for a profile."""
    own = {rule.key: rule for rule in profile.rules.all()}
    rows = []
    for key, kind in RULES.items():
        rule = own.get(key)
        default = kind.default if isinstance(kind.default, str) else f"{kind.default:g}"
        value = default
        if rule is not None:
            value = rule.text_value if rule.number_value is None else f"{float(rule.number_value):g}"
        rows.append(
            RuleRow(
                key=key, name=kind.name, value=value.replace("_", " "), unit=_unit(kind.unit, value),
                source=rule.source if rule else kind.source, default=default.replace("_", " "), is_own=rule is not None,
                row_version=rule.row_version if rule else 0,
            )
        )  # fmt: skip
    return rows


def drop_rule_rows(profile: BuyerProfile) -> list[DropRuleRow]:
    """Return the drop rules of a profile, or the shop's defaults where it has none."""
    own = list(profile.drop_rules.all())
    rules: list[Any] = [*own] or [*DEFAULT_DROP_RULES]
    return [
        DropRuleRow(
            key=rule.key, drop_class=rule.drop_class,
            who=_who(rule),
            limit_ratio=_exact(rule.limit_ratio), base_v=_exact(rule.base_v), current=str(rule.current),
            conductor_temp_c=_exact(rule.conductor_temp_c), source=rule.source, is_own=bool(own),
            row_version=getattr(rule, "row_version", 0), from_node=rule.from_node, to_node=rule.to_node,
            conditions=", ".join(rule.conditions), follows_bus=rule.follows_bus,
        )
        for rule in rules
    ]  # fmt: skip


def stretch_words(from_node: str, to_node: str, conditions: str) -> str:
    """
    Say between where a drop rule counts, and in which conditions.

    >>> stretch_words("", "panel", "engine_off, idle")
    'battery post to panel, in engine off, idle'
    """
    where = f"{from_node or 'battery post'} to {to_node or 'load and back'}"
    return f"{where}, in {conditions.replace('_', ' ')}" if conditions else where


def _who(rule: Any) -> str:
    if rule.drop_class != "*":
        return f"{rule.drop_class} loads"
    return "all loads" if rule.from_node or rule.to_node or rule.conditions else "all other loads"


def _unit(unit: str, value: str) -> str:
    """The unit, or of a ratio the percentage that it means."""
    return f"= {float(value) * 100:g} %" if unit == "ratio" else unit


def _exact(value: Decimal | float) -> Decimal:
    return value if isinstance(value, Decimal) else round(Decimal(repr(value)), 4)
