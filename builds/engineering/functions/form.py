"""
Values to the plain dictionaries that a form edits and a document keeps, and back.

Text, values and form are three spellings of one thing: each gives the others without loss. Field names are those of the
dataclasses. A condition is one of::

    {"input": "mode", "is": ["respond", "block"]}        {"input": "park", "is not": ["on"]}
    {"output": "front", "of": "any", "is": "flashing", "pattern": "double"}
    {"not": …}   {"and": [… , …]}   {"or": [… , …]}
    {"for at least": 3000, "term": …}   {"for at most": 3000, "term": …}   {"after": …, "at most": 10000}
"""

import dataclasses
import hashlib
import json
from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Any

from builds.engineering.errors import EngineeringError
from builds.engineering.functions.conditions import (
    After,
    AllOf,
    AnyOf,
    Condition,
    ForAtLeast,
    ForAtMost,
    InputIs,
    Not,
    OutputIs,
)
from builds.engineering.functions.faults import LanguageError, LanguageFault, Place, fault
from builds.engineering.functions.patterns import FlashPattern, FlashStep
from builds.engineering.functions.resolving import resolve_schedule
from builds.engineering.functions.schedule import (
    Channel,
    ChannelSet,
    Claim,
    Effect,
    FunctionSchedule,
    GatewaySource,
    Given,
    Head,
    Input,
    Rule,
    WireSource,
)
from builds.engineering.functions.vocabulary import (
    ActiveLevel,
    ChannelJob,
    ChannelKind,
    ClaimKind,
    Colour,
    DimMethod,
    EffectKind,
    Facing,
    FailState,
    HeadRule,
    InputKind,
    Level,
    OutputState,
    Quantifier,
    SignalMeaning,
    SwitchedSide,
)

__all__ = ["condition_form", "condition_of_form", "schedule_digest", "schedule_form", "schedule_of_form"]

Form = dict[str, Any]

_WORDS: dict[type, dict[str, type[StrEnum]]] = {
    Input: {"kind": InputKind, "means": SignalMeaning},
    WireSource: {"active": ActiveLevel},
    Channel: {
        "kind": ChannelKind,
        "side": SwitchedSide,
        "facing": Facing,
        "level": Level,
        "colour": Colour,
        "job": ChannelJob,
    },
    Head: {"colours": HeadRule, "dims_by": DimMethod},
    Effect: {"kind": EffectKind},
    Rule: {"fail": FailState},
    Claim: {"kind": ClaimKind},
}
_FAMILIES: dict[str, type] = {
    "inputs": Input,
    "channels": Channel,
    "heads": Head,
    "patterns": FlashPattern,
    "sets": ChannelSet,
    "rules": Rule,
    "givens": Given,
    "claims": Claim,
}
_BEHAVIOUR = ("inputs", "channels", "heads", "patterns", "sets", "rules")


def condition_form(condition: Condition) -> Form:  # noqa: PLR0911 - one return per kind of term
    """
    Return a condition as a plain dictionary.

    Parameters
    ----------
    condition : Condition
        A tree.

    Examples
    --------
    >>> condition_form(Not(term=InputIs(input="park")))
    {'not': {'input': 'park', 'is': ['on']}}
    """
    match condition:
        case InputIs():
            return {"input": condition.input, "is not" if condition.negated else "is": list(condition.values)}
        case OutputIs():
            form: Form = {"output": condition.target, "is not" if condition.negated else "is": condition.state.value}
            form |= {"of": condition.quantifier.value} if condition.quantifier is not Quantifier.ONE else {}
            return form | ({"pattern": condition.pattern} if condition.pattern else {})
        case Not(term=term):
            return {"not": condition_form(term)}
        case AllOf(terms=terms):
            return {"and": [condition_form(term) for term in terms]}
        case AnyOf(terms=terms):
            return {"or": [condition_form(term) for term in terms]}
        case ForAtLeast(term=term, duration_ms=duration_ms):
            return {"for at least": duration_ms, "term": condition_form(term)}
        case ForAtMost(term=term, duration_ms=duration_ms):
            return {"for at most": duration_ms, "term": condition_form(term)}
        case After(term=term, duration_ms=duration_ms):
            return {"after": condition_form(term), "at most": duration_ms}


def condition_of_form(form: Mapping[str, Any]) -> Condition:
    """
    Return the condition a dictionary stands for.

    Parameters
    ----------
    form : mapping
        As :func:`condition_form` writes it.

    Raises
    ------
    LanguageError
        If it is none of the forms above.
    """
    try:
        return _condition(form)
    except (KeyError, TypeError, ValueError, AttributeError, EngineeringError) as error:
        raise _not_a(form, "condition") from error


def _condition(form: Mapping[str, Any]) -> Condition:  # noqa: PLR0911 - one return per kind of term
    negated = "is not" in form
    match form:
        case {"input": name}:
            return InputIs(
                input=str(name), values=tuple(map(str, form["is not" if negated else "is"])), negated=negated
            )
        case {"output": name}:
            return OutputIs(
                target=str(name),
                state=OutputState(form["is not" if negated else "is"]),
                quantifier=Quantifier(form.get("of", "")),
                pattern=str(form.get("pattern", "")),
                negated=negated,
            )
        case {"not": term}:
            return Not(term=_condition(term))
        case {"and": terms}:
            return AllOf(terms=tuple(map(_condition, terms)))
        case {"or": terms}:
            return AnyOf(terms=tuple(map(_condition, terms)))
        case {"for at least": duration_ms, "term": term}:
            return ForAtLeast(term=_condition(term), duration_ms=duration_ms)
        case {"for at most": duration_ms, "term": term}:
            return ForAtMost(term=_condition(term), duration_ms=duration_ms)
        case {"after": term, "at most": duration_ms}:
            return After(term=_condition(term), duration_ms=duration_ms)
        case _:
            raise _not_a(form, "condition")


def schedule_form(schedule: FunctionSchedule) -> Form:
    """
    Return a schedule as plain dictionaries and lists, ready for JSON.

    Parameters
    ----------
    schedule : FunctionSchedule
        Any schedule.

    Returns
    -------
    dict
        One list per family, every field written.
    """
    return {family: [_part_form(part) for part in getattr(schedule, family)] for family in _FAMILIES}


def _part_form(part: object) -> Form:
    assert dataclasses.is_dataclass(part)
    return {field.name: _value_form(getattr(part, field.name)) for field in dataclasses.fields(part)}


def _value_form(value: object) -> Any:
    if isinstance(value, InputIs | OutputIs | Not | AllOf | AnyOf | ForAtLeast | ForAtMost | After):
        return condition_form(value)
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, tuple):
        return [_value_form(item) for item in value]
    return _part_form(value) if dataclasses.is_dataclass(value) else value


def schedule_of_form(form: Mapping[str, Any]) -> FunctionSchedule:
    """
    Return the schedule that dictionaries stand for, every name looked up.

    Parameters
    ----------
    form : mapping
        As :func:`schedule_form` writes it; a family or a field with a default may be left out.

    Raises
    ------
    LanguageError
        With every part that cannot be and every name that stands for nothing; places are nowhere, subjects say where.
    """
    faults: list[LanguageFault] = []
    made: dict[str, Any] = {}
    for family, kind in _FAMILIES.items():
        parts = []
        for number, part in enumerate(form.get(family, ())):
            try:
                parts.append(_part(kind, part))
            except LanguageError as error:
                faults += error.faults
            except (KeyError, TypeError, ValueError, AttributeError, EngineeringError) as error:
                words = {"found": str(part)[:60], "what": family.removesuffix("s"), "expected": str(error)}
                faults.append(fault("word-unknown", Place(), subject=f"{family}/{number}", **words))
        made[family] = tuple(parts)
    resolved, unresolved = resolve_schedule(FunctionSchedule(**made))
    if faults or unresolved:
        raise LanguageError((*faults, *unresolved))
    return resolved


def _part(kind: type, form: Mapping[str, Any]) -> Any:
    names = {field.name for field in dataclasses.fields(kind)}
    if unknown := set(form) - names:
        raise ValueError(f"no field {sorted(unknown)[0]!r}")
    return kind(**{name: _value(kind, name, value) for name, value in form.items()})


def _value(kind: type, name: str, value: Any) -> Any:
    made = _READERS.get((kind, name))
    if made is not None:
        return made(value)
    if word := _WORDS.get(kind, {}).get(name):
        return word(value)
    return tuple(value) if isinstance(value, list) else value


def _source(form: Mapping[str, Any] | None) -> WireSource | GatewaySource | None:
    if form is None:
        return None
    made: WireSource | GatewaySource = _part(WireSource if "pin" in form else GatewaySource, form)
    return made


_READERS: dict[tuple[type, str], Callable[[Any], Any]] = {
    (Input, "source"): _source,
    (FlashPattern, "steps"): lambda steps: tuple(_part(FlashStep, step) for step in steps),
    (Rule, "effect"): lambda effect: _part(Effect, effect),
    (Rule, "condition"): condition_of_form,
    (Given, "condition"): condition_of_form,
    (Claim, "condition"): condition_of_form,
    (Claim, "then"): lambda then: None if then is None else condition_of_form(then),
}


def _not_a(form: object, what: str) -> LanguageError:
    expected = "one of the forms of the language"
    return LanguageError((fault("word-unknown", Place(), found=str(form)[:60], what=what, expected=expected),))


def schedule_digest(schedule: FunctionSchedule) -> str:
    """
    Return the SHA-256 of what a schedule makes a vehicle do.

    Parameters
    ----------
    schedule : FunctionSchedule
        Givens and claims take no part: they are about the schedule and load nothing into a device.

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    form = schedule_form(schedule)
    text = json.dumps(
        {family: form[family] for family in _BEHAVIOUR}, sort_keys=True, ensure_ascii=False, separators=(",", ":")
    )
    return hashlib.sha256(text.encode()).hexdigest()
