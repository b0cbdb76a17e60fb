"""
The tree of a parsed statement to values.

``places`` remembers where the names of a statement stand that its values keep without a place of their own.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, TypeVar

from lark import Token, Tree

from builds.engineering.functions.patterns import FlashPattern, FlashStep
from builds.engineering.functions.reading_conditions import ConditionReader
from builds.engineering.functions.schedule import (
    Channel,
    ChannelSet,
    Claim,
    Effect,
    GatewaySource,
    Given,
    Head,
    Input,
    Rule,
    WireSource,
)
from builds.engineering.functions.syntax_faults import quoted_or
from builds.engineering.functions.tokens import (
    Node,
    name_of,
    offset_of,
    said_in,
    spaced,
    token_of,
    tree_of,
    whole,
)
from builds.engineering.functions.vocabulary import (
    LOST,
    OFF,
    ON,
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
    SignalMeaning,
    SwitchedSide,
)

__all__ = ["Node", "Part", "StatementReader"]

_VALUES = frozenset((ON, OFF, LOST, *OutputState))  # what may stand after “is”

Part = Input | Channel | Head | FlashPattern | ChannelSet | Rule | Given | Claim
Made = TypeVar("Made")
Word = TypeVar("Word", bound=StrEnum)

_ONE_THING = {"gateway": "wire", "bridge": "side"}  # clauses that say the same as another


@dataclass(slots=True)
class StatementReader(ConditionReader):
    """Reads the trees of one statement; raises :class:`LanguageError` where a value cannot be."""

    def part(self, tree: Node) -> Part:
        """Return what a statement declares."""
        inner = tree_of(tree.children[0])
        readers: dict[str, Callable[[Node], Part]] = {
            "input": self._input,
            "channel": self._channel,
            "head": self._head,
            "pattern": self._pattern,
            "channel_set": self._set,
            "rule": self._rule,
            "given": self._given,
            "claim": self._claim,
        }
        return readers[str(inner.data)](inner)

    # statements

    def _input(self, node: Node) -> Input:
        name, kind, *parts = node.children
        said: dict[str, Any] = {}
        kind_tree = tree_of(kind)
        kind_word = InputKind(str(kind_tree.data))
        if kind_word is InputKind.SIGNAL:
            meaning = kind_tree.children[0]
            said["means"] = self._word(tree_of(meaning).children[0], SignalMeaning) if meaning else SignalMeaning.OTHER
        else:
            said["positions"] = tuple(name_of(token_of(child)) for child in kind_tree.children)
            said["rest"] = said["positions"][0] if said["positions"] else OFF
            self._once(map(token_of, kind_tree.children), "position")
        has_meaning = kind_word is InputKind.SIGNAL and kind_tree.children[0] is not None
        clauses = self._clauses(parts, {"means"} if has_meaning else set())
        for part in clauses.values():
            said.update(self._input_part(part))
        held = clauses.get("held")
        lost = [child for child in kind_tree.children if isinstance(child, Token) and name_of(child) == LOST]
        spots = {
            "rest": clauses.get("rest"), "hold_ms": held.children[0] if held else None, "asleep": None,
            "positions": lost[0] if lost else None,
        }  # fmt: skip
        if "wire" in clauses and clauses["wire"].data == "gateway":
            spots["asleep"] = Tree("asleep", clauses["wire"].children[2:])
        return self._named(name, Input, spots, kind=kind_word, **said)

    def _clauses(self, parts: list[Any], said: set[str]) -> dict[str, Node]:
        """The clauses of a statement by what they say; raises where two say the same."""
        found: dict[str, Node] = {}
        for part in map(tree_of, parts):
            what = _ONE_THING.get(str(part.data), str(part.data))
            if what in found or what in said:
                begins = part.meta.start_pos
                word = Token("NAME", self.text[begins : part.meta.end_pos], start_pos=begins)
                raise self.fault_at("clause-twice", word)
            found[what] = part
        return found

    def _once(self, names: Iterable[Token], what: str) -> None:
        seen: set[str] = set()
        for token in names:
            if name_of(token) in seen:
                raise self.fault_at("name-twice", token, what=what)
            seen.add(name_of(token))

    def _input_part(self, node: Node) -> dict[str, Any]:
        match str(node.data):
            case "wire":
                pin, active, blinking = node.children
                level = self._word(tree_of(active).children[0], ActiveLevel) if active else ActiveLevel.HIGH
                return {"source": WireSource(pin=name_of(token_of(pin)), active=level, blinking=blinking is not None)}
            case "gateway":
                message, rate, asleep = map(token_of, node.children)
                source = self.made(
                    rate,
                    GatewaySource,
                    {"rate_hz": rate},
                    message=name_of(message),
                    rate_hz=float(rate),
                    asleep=name_of(asleep),
                )
                return {"source": source}
            case "means":
                return {"means": self._word(node.children[0], SignalMeaning)}
            case "held":
                return {"hold_ms": self.duration_ms_of(tree_of(node.children[0]))}
            case _:
                return {"rest": name_of(token_of(node.children[0]))}

    def _channel(self, node: Node) -> Channel:
        name, kind, *parts = node.children
        said: dict[str, Any] = {"kind": self._word(kind, ChannelKind)}
        words = {"facing": Facing, "level": Level, "colour": Colour, "job": ChannelJob, "side": SwitchedSide}
        clauses = self._clauses(parts, set())
        for part in clauses.values():
            what = str(part.data)
            if what == "bridge":
                said["side"] = SwitchedSide.BRIDGE
            elif what == "current":
                said["current_a"] = float(token_of(part.children[0]))
            else:
                said[what] = (
                    self._word(part.children[0], words[what]) if what in words else name_of(token_of(part.children[0]))
                )
        return self._named(name, Channel, {"current_a": clauses.get("current")}, **said)

    def _head(self, node: Node) -> Head:
        name, members, *parts = node.children
        self._once(map(token_of, tree_of(members).children), "colour of this head")
        said: dict[str, Any] = {"channels": self._names("head", name, members), "max_current_a": 0.0}
        for part in self._clauses(parts, set()).values():
            match str(part.data):
                case "head_maximum":
                    most = token_of(part.children[0])
                    said["max_current_a"] = float(most)
                    if not said["max_current_a"]:
                        raise self.fault_at("out-of-range", most, what="largest current", expected="more than 0 A")
                case "head_colours":
                    said["colours"] = self._word(part.children[0], HeadRule)
                case _:
                    said["dims_by"] = self._word(part.children[0], DimMethod)
        return self._named(name, Head, **said)

    def _pattern(self, node: Node) -> FlashPattern:
        name, *rest = node.children
        limit = rest.pop()
        if limit is not None:
            self.places[f"pattern:{name_of(token_of(name))}", "limit"] = offset_of(token_of(limit))
        steps = tuple(self._step(tree_of(step)) for step in rest)
        return self._named(name, FlashPattern, steps=steps, limit=name_of(token_of(limit)) if limit is not None else "")

    def _step(self, node: Node) -> FlashStep:
        length, *level = node.children
        percent = "100" if not level else "0" if str(level[0]) == OFF else str(token_of(level[0]))
        spots = {"duration_ms": tree_of(length), "level_percent": level[0] if level else None}
        return self.made(
            tree_of(length),
            FlashStep,
            spots,
            duration_ms=self.duration_ms_of(tree_of(length)),
            level_percent=whole(percent),
        )

    def _set(self, node: Node) -> ChannelSet:
        name, members = node.children
        return self._named(name, ChannelSet, channels=self._names("set", name, members))

    def _rule(self, node: Node) -> Rule:
        name, priority, targets, effect, condition, fail = node.children
        key = name_of(token_of(name))
        return self._named(
            name,
            Rule,
            {"priority": priority},
            priority=whole(str(token_of(priority))),
            targets=self._names("rule", name, targets),
            effect=self._effect(tree_of(effect), f"rule:{key}"),
            condition=self.condition(tree_of(condition)),
            fail=FailState.APPLIES if tree_of(fail).data == "fail_applies" else FailState.DOES_NOT_APPLY,
        )

    def _effect(self, node: Node, subject: str) -> Effect:
        kind = EffectKind(str(node.data).removeprefix("effect_"))
        said: dict[str, Any] = {}
        spots: dict[str, Any] = {}
        for child in node.children:
            if isinstance(child, Token) and child.type != "NUMBER":
                said["pattern"] = name_of(child)
                self.places[subject, "pattern"] = offset_of(child)
            elif isinstance(child, Token):
                said["level_percent"] = whole(str(child))
                spots["level_percent"] = child
            elif child is not None:
                what, value = str(child.data), token_of(child.children[0])
                if what == "sync_clause":
                    said["sync"] = name_of(value)
                else:
                    field_name = "level_percent" if what == "level_clause" else "phase_ms"
                    said[field_name], spots[field_name] = whole(str(value)), value
        return self.made(node, Effect, spots, kind=kind, **said)

    def _given(self, node: Node) -> Given:
        name, condition, because = node.children
        return self._named(name, Given, condition=self.condition(tree_of(condition)), basis=said_in(because))

    def _claim(self, node: Node) -> Claim:
        name, form, because, ask = node.children
        form_tree = tree_of(form)
        first, *then = (self.condition(tree_of(child)) for child in form_tree.children)
        return self._named(
            name,
            Claim,
            kind=ClaimKind(str(form_tree.data)),
            condition=first,
            then=then[0] if then else None,
            basis=said_in(because),
            defers_to=said_in(ask),
        )

    # words

    def _named(
        self, name: object, kind: Callable[..., Made], spots: Mapping[str, Any] | None = None, /, **said: Any
    ) -> Made:
        token = token_of(name)
        if kind in {Input, Channel, ChannelSet} and token in _VALUES:  # bare: “lost is lost” would be a condition
            raise self.fault_at("name-is-a-word", token, expected=f'another name, or "{token}" in quotation marks')
        return self.made(token, kind, spots, key=name_of(token), **said)

    def _names(self, family: str, name: object, node: object) -> tuple[str, ...]:
        tokens = [token_of(child) for child in tree_of(node).children]
        for number, token in enumerate(tokens):
            self.places[f"{family}:{name_of(token_of(name))}", f"member {number}"] = offset_of(token)
        return tuple(map(name_of, tokens))

    def _word(self, node: object, words: type[Word]) -> Word:
        token = token_of(node)
        if name_of(token) not in list(words):
            raise self.fault_at("word-unknown", token, what=spaced(words.__name__), expected=quoted_or(words))
        return words(name_of(token))
