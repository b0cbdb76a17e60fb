"""The rules a buyer asks for, as data: a value of a rule of the catalogue, and where it comes from."""

import re
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import F, Max

from builds.engineering.buyer_rules import DEFAULT_DROP_RULES, RULES, RuleKind
from builds.engineering.document.schema import KEY_PATTERN
from builds.engineering.electrical.conductors import sizes
from builds.engineering.vocabulary import DropCurrent, GaugeBasis
from builds.errors import BadInput, FieldConflict, NotHere, StaleRow
from builds.models import Build, BuyerProfile, BuyerRule, DropRule, Person, Stage
from builds.permissions import Action, check_may
from builds.services.actors import act_as

__all__ = ["clear_drop_rule", "clear_rule", "set_drop_rule", "set_rule"]

_DONE = (Stage.DELIVERED, Stage.CLOSED, Stage.CANCELLED)


def set_rule(
    *, profile: BuyerProfile, key: str, value: Decimal | str, source: str, row_version: int, by: Person, at: datetime
) -> BuyerRule:
    """
    Give a profile its own value of a rule; ``row_version`` is 0 where it had none.

    Raises
    ------
    NotHere
        If the catalogue has no such rule.
    BadInput
        If the value lies outside the rule's range, or nothing says where it comes from.
    StaleRow
        If someone else changed it meanwhile.
    """
    check_may(by, Action.EDIT_CUSTOMER)
    kind = _kind(key)
    number, text = _checked_value(kind, value, source)
    with transaction.atomic():
        act_as(by)
        rule = _locked(profile.rules, profile, key)
        _check_version(rule, row_version, yours=str(value))
        rule = rule or BuyerRule(profile=profile, key=key, line=_next_line(profile.rules))
        rule.number_value, rule.text_value, rule.source = number, text, source.strip()[:200]
        rule.row_version += 1 if rule.pk else 0
        rule.save()
        _tell_builds(profile)
    return rule


def clear_rule(*, profile: BuyerProfile, key: str, row_version: int, by: Person, at: datetime) -> None:
    """Let the shop's default hold again. Raises StaleRow."""
    check_may(by, Action.EDIT_CUSTOMER)
    _kind(key)
    with transaction.atomic():
        act_as(by)
        rule = _locked(profile.rules, profile, key)
        _check_version(rule, row_version, yours="the shop's default")
        if rule is not None:
            rule.delete()
            _tell_builds(profile)


def set_drop_rule(
    *, profile: BuyerProfile, drop_class: str, limit_ratio: Decimal, base_v: Decimal, current: str,
    conductor_temp_c: Decimal, source: str, row_version: int, by: Person, at: datetime, key: str = "",
    from_node: str = "", to_node: str = "", conditions: str = "", follows_bus: bool = False,
) -> DropRule:  # fmt: skip
    """
    Give a profile its limit on the voltage lost to loads of a class ("*": all that have none of their own).

    One with a place or a condition (names parted by commas) holds beside those of the classes; ``key`` tells which of them
    is changed, and is empty for another.

    A profile without any has the shop's defaults; its first own rule is set beside copies of those, so that no class
    loses its limit. Raises BadInput, StaleRow.
    """
    check_may(by, Action.EDIT_CUSTOMER)
    names = [name.strip() for name in conditions.split(",") if name.strip()]
    fields = _drop_faults(drop_class, current, source) | _place_faults(from_node, to_node, names)
    beside = bool(from_node.strip() or to_node.strip() or names)
    if beside and key == _drop_key("*"):
        fields["from_node"] = "Every load needs a limit for the whole way: add this one as another rule."
    if fields:
        raise BadInput(fields)
    with transaction.atomic():
        act_as(by)
        copied = _own_drop_rules(profile)
        key = _key_beside(profile, drop_class, key) if beside else _drop_key(drop_class)
        rule = _locked(profile.drop_rules, profile, key)
        # whoever saw the shop's default saw what was just copied
        seen = rule.row_version if copied and rule is not None and not row_version else row_version
        _check_version(rule, seen, yours=str(limit_ratio))
        rule = rule or DropRule(profile=profile, key=key, line=_next_line(profile.drop_rules))
        rule.drop_class, rule.limit_ratio, rule.base_v = drop_class.strip(), limit_ratio, base_v
        rule.current, rule.conductor_temp_c, rule.source = current, conductor_temp_c, source.strip()[:200]
        rule.from_node, rule.to_node, rule.conditions = from_node.strip(), to_node.strip(), names
        rule.follows_bus = follows_bus
        rule.row_version += 1 if rule.pk else 0
        rule.save()
        _tell_builds(profile)
    return rule


def clear_drop_rule(*, profile: BuyerProfile, key: str, row_version: int, by: Person, at: datetime) -> None:
    """Take a drop rule away; the one for all loads stays. Raises BadInput, StaleRow."""
    check_may(by, Action.EDIT_CUSTOMER)
    if key == _drop_key("*"):
        raise BadInput({"drop_class": "Every load needs a limit: change this one instead."})
    with transaction.atomic():
        act_as(by)
        rule = _locked(profile.drop_rules, profile, key)
        _check_version(rule, row_version, yours="taken away")
        if rule is not None:
            rule.delete()
            _tell_builds(profile)


def _kind(key: str) -> RuleKind:
    if key not in RULES:
        raise NotHere(f"The catalogue has no rule {key!r}.")
    return RULES[key]


def _checked_value(kind: RuleKind, value: Decimal | str, source: str) -> tuple[Decimal | None, str]:
    fields = {}
    if not source.strip():
        fields["source"] = "Say where this comes from: the contract, a standard, the buyer's letter."
    number, text = (None, value.strip()) if isinstance(value, str) else (value, "")
    if isinstance(kind.default, str):
        if number is not None or not text:
            fields["value"] = "Write it in words."
        elif kind.choices and text not in kind.choices:
            fields["value"] = "Choose one of the list."
        elif kind.key == "min-gauge" and not _known_gauge(text):
            fields["value"] = "Write a gauge of one of the tables, such as 16 or 1.5."
    elif number is None or not (kind.least or 0) <= number <= (kind.most if kind.most is not None else number):
        fields["value"] = f"Write a number from {kind.least:g} to {kind.most:g}."
    if fields:
        raise BadInput(fields)
    return number, text[:120]


def _known_gauge(text: str) -> bool:
    return any(size.gauge == text for basis in GaugeBasis for size in sizes(basis))


def _drop_faults(drop_class: str, current: str, source: str) -> dict[str, str]:
    fields = {}
    if not drop_class.strip() or len(drop_class.strip()) > 30:
        fields["drop_class"] = "Name the class of loads in up to 30 letters, or * for all others."
    if current not in list(DropCurrent):
        fields["current"] = "Choose at which current it is judged."
    if not source.strip():
        fields["source"] = "Say where this comes from: the contract, a standard, the buyer's letter."
    return fields


def _place_faults(from_node: str, to_node: str, conditions: list[str]) -> dict[str, str]:
    fields = {}
    for field, names in (("from_node", [from_node]), ("to_node", [to_node]), ("conditions", conditions)):
        if any(name.strip() and not re.fullmatch(KEY_PATTERN, name.strip()) for name in names):
            fields[field] = "Use up to 40 letters, digits, spaces and . _ / + - for a name."
    return fields


def _key_beside(profile: BuyerProfile, drop_class: str, key: str) -> str:
    """The key of a rule that holds beside the others: the one it has, or the next that is free."""
    keys = set(profile.drop_rules.values_list("key", flat=True))
    if key in keys and key.rpartition("-")[2].isdecimal():
        return key
    start = _drop_key(drop_class)
    return next(f"{start}-{count}" for count in range(2, len(keys) + 3) if f"{start}-{count}" not in keys)


def _drop_key(drop_class: str) -> str:
    return f"drop-{'general' if drop_class.strip() == '*' else drop_class.strip()}"


def _own_drop_rules(profile: BuyerProfile) -> bool:
    """Copy the shop's default drop rules into a profile that has none; whether that was so."""
    if profile.drop_rules.exists():
        return False
    DropRule.objects.bulk_create(
        DropRule(
            profile=profile, line=line, key=rule.key, drop_class=rule.drop_class,
            limit_ratio=round(Decimal(repr(rule.limit_ratio)), 4), base_v=Decimal(repr(rule.base_v)),
            current=rule.current, conductor_temp_c=Decimal(repr(rule.conductor_temp_c)), source=rule.source,
            follows_bus=rule.follows_bus,
        )
        for line, rule in enumerate(DEFAULT_DROP_RULES, start=1)
    )  # fmt: skip
    return True


def _locked(rules: Any, profile: BuyerProfile, key: str) -> Any:
    """Lock the profile, so that two people do not both add the rule, and return the rule if it is there."""
    BuyerProfile.objects.select_for_update().get(pk=profile.pk)
    return rules.filter(key=key).first()


def _check_version(rule: Any, row_version: int, *, yours: str) -> None:
    now = rule.row_version if rule is not None else 0
    if now == row_version:
        return
    theirs = "the shop's default" if rule is None else _words_of(rule)
    conflict = FieldConflict(field="value", yours=yours, theirs=theirs)
    raise StaleRow("Someone changed this rule while you had it open.", conflicts=(conflict,), row_version=now)


def _words_of(rule: BuyerRule | DropRule) -> str:
    if isinstance(rule, DropRule):
        return f"{rule.limit_ratio * 100:f} %"
    return rule.text_value or f"{rule.number_value:f}"


def _next_line(rules: Any) -> int:
    return int(rules.aggregate(last=Max("line"))["last"] or 0) + 1


def _tell_builds(profile: BuyerProfile) -> None:
    """
    Mark the open builds of this profile as not assessed: their findings may be others now.

    Their design has not changed, so its version stays; the profile's own says that its rules are others.
    """
    BuyerProfile.objects.filter(pk=profile.pk).update(row_version=F("row_version") + 1)
    Build.objects.filter(profile=profile).exclude(stage__in=_DONE).update(assessed_version=0)
