"""The tree of a parsed condition to values; and what readers of statements share: a value made, or the fault at its place."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from lark import Token, Tree

from builds.engineering.errors import OutOfRange
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
from builds.engineering.functions.faults import LanguageError, fault
from builds.engineering.functions.syntax_faults import place_in, quoted_or
from builds.engineering.functions.tokens import Node, first_token, name_of, offset_of, token_of, tree_of
from builds.engineering.functions.vocabulary import OFF, OutputState, Quantifier

__all__ = ["ConditionReader"]

Made = TypeVar("Made")

_UNIT_MS = {"ms": 1, "s": 1000, "min": 60_000}
_FIELD_WORDS = {
    "duration_ms": "time",
    "hold_ms": "hold time",
    "level_percent": "level",
    "phase_ms": "phase",
    "current_a": "current",
    "max_current_a": "largest current",
    "rate_hz": "rate",
    "key": "name",
    "asleep": "what it says asleep",
    "positions": "position",
    "steps": "number of steps",
    "lights": "pattern",
}
_STATES = frozenset(OutputState)
_QUANTIFIERS = {"any_member": Quantifier.ANY, "all_members": Quantifier.ALL, "no_member": Quantifier.NONE}


@dataclass(slots=True)
class ConditionReader:
    """Reads the trees of one condition; raises :class:`LanguageError` where a value cannot be."""

    text: str
    first_line: int
    places: dict[tuple[str, str], int] = field(default_factory=dict)

    def condition(self, node: Node) -> Condition:  # noqa: PLR0911 - one return per kind of term
        """Return the condition a tree stands for."""
        kind = str(node.data)
        said: dict[str, Any]
        match kind:
            case "bare":
                token = token_of(node.children[0])
                return InputIs(input=name_of(token), at=offset_of(token), value_at=offset_of(token))
            case "is_" | "is_one_of":
                return self._is(node)
            case "not_":
                return Not(term=self.condition(tree_of(node.children[0])))
            case "all_of" | "any_of":
                terms = tuple(self.condition(tree_of(child)) for child in node.children)
                return AllOf(terms=terms) if kind == "all_of" else AnyOf(terms=terms)
            case "after":
                length, term = map(tree_of, node.children)
                said = {"term": self.condition(term), "duration_ms": self.duration_ms_of(length)}
                return self.made(length, After, {"duration_ms": length}, **said)
            case _:
                term, length = map(tree_of, node.children)
                said = {"term": self.condition(term), "duration_ms": self.duration_ms_of(length)}
                if kind == "for_at_least":
                    return self.made(length, ForAtLeast, {"duration_ms": length}, **said)
                return self.made(length, ForAtMost, {"duration_ms": length}, **said)

    def _is(self, node: Node) -> Condition:
        children = list(node.children)
        quantifier = Quantifier.ONE
        if node.data == "is_":
            first = children.pop(0)
            quantifier = _QUANTIFIERS[str(first.data)] if isinstance(first, Tree) else Quantifier.ONE
        subject, negation, *values = children
        token, words = token_of(subject), [token_of(value) for value in values if value is not None]
        at, value_at = offset_of(token), offset_of(words[0])
        says_state = name_of(words[0]) in _STATES and str(words[0]) != OFF
        if quantifier is not Quantifier.ONE or (node.data == "is_" and (says_state or len(words) > 1)):
            return self._output_is(quantifier, token, negation is not None, words)
        return InputIs(
            input=name_of(token),
            values=tuple(map(name_of, words)),
            negated=negation is not None,
            at=at,
            value_at=value_at,
        )

    def _output_is(self, quantifier: Quantifier, subject: Token, negated: bool, words: list[Token]) -> OutputIs:
        if name_of(words[0]) not in _STATES:
            raise self.fault_at("state-unknown", words[0], expected=quoted_or(OutputState))
        state = OutputState(name_of(words[0]))
        if len(words) > 1 and state is not OutputState.FLASHING:
            raise self.fault_at(
                "word-unexpected", words[1], expected="the end of this term: only flashing names a pattern"
            )
        return OutputIs(
            target=name_of(subject),
            state=state,
            quantifier=quantifier,
            pattern=name_of(words[1]) if len(words) > 1 else "",
            negated=negated,
            at=offset_of(subject),
            value_at=offset_of(words[-1]),
        )

    def made(
        self, where: Node | Token, kind: Callable[..., Made], spots: Mapping[str, Any] | None = None, /, **said: Any
    ) -> Made:
        """Return a value made, or raise the fault that keeps it from being: at the spot of its field, else at ``where``."""
        try:
            return kind(**said)
        except OutOfRange as error:
            raise self.fault_at(
                "out-of-range",
                first_token((spots or {}).get(error.name) or where),
                what=_FIELD_WORDS.get(error.name, error.name),
                found=self.as_typed((spots or {}).get(error.name), error.value),
                expected=error.allowed,
            ) from error

    def as_typed(self, spot: Node | Token | None, value: object) -> str:
        """Return what stands at the spot of a value, a time with its unit; where it has no spot, the value itself."""
        if isinstance(spot, Tree) and spot.data == "duration":
            return self.text[spot.meta.start_pos : spot.meta.end_pos]
        if isinstance(spot, Tree):
            return str(first_token(spot)).strip('"')
        return str(value) if spot is None else str(spot).strip('"')

    def duration_ms_of(self, node: Node) -> int:
        """Return a time with its unit in milliseconds."""
        number, unit = map(token_of, node.children)
        exact = float(number) * _UNIT_MS[str(unit)]
        if exact != int(exact):
            typed = self.as_typed(node, number)
            raise self.fault_at("out-of-range", number, what="time", found=typed, expected="whole milliseconds")
        return int(exact)

    def fault_at(self, name: str, token: Token, **words: str) -> LanguageError:
        """Return the fault of a name at a token; the words fill its sentence."""
        place = place_in(self.text, token.start_pos or 0, first_line=self.first_line)
        return LanguageError((fault(name, place, **{"found": str(token).strip('"'), **words}),))
