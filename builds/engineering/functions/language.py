"""
Text to values: a whole schedule, one statement, or one condition.

The grammar is kept in ``grammar.lark``. A statement begins at the left edge of a line and goes on over the lines that are
set in below it; a line whose first sign is ``#`` is a remark. Every statement is read by itself, so one look reports the
faults of all of them.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from lark import Lark, UnexpectedInput
from lark.lexer import PatternRE, TerminalDef

from builds.engineering.functions.conditions import Condition, depth_of
from builds.engineering.functions.faults import LanguageError, LanguageFault, Place, fault
from builds.engineering.functions.names import ConditionResolver, folded, names_of
from builds.engineering.functions.patterns import FlashPattern
from builds.engineering.functions.reading import Node, Part, StatementReader
from builds.engineering.functions.resolving import resolve_schedule
from builds.engineering.functions.schedule import Channel, ChannelSet, Claim, FunctionSchedule, Given, Head, Input, Rule
from builds.engineering.functions.syntax_faults import place_in, quoted_or, syntax_fault

__all__ = ["family_of", "parse_condition", "parse_schedule", "parse_statement", "split_statements"]

_MOST_LEVELS = 40  # what computes with a condition walks it level by level
_HEAD = re.compile(r"""[a-z]+\s+(?:"([^"]*)"|([\w-]+))""")
_LETTERS = re.compile(r"[A-Za-z]+|\(\?:[a-z|]+\)")
_WORD_ENDS = r"(?![A-Za-z0-9]|[-_][A-Za-z0-9])"
_GRAMMAR = Path(__file__).with_name("grammar.lark")
_FAMILIES: dict[type, str] = {
    Input: "input",
    Channel: "channel",
    Head: "head",
    FlashPattern: "pattern",
    ChannelSet: "set",
    Rule: "rule",
    Given: "given",
    Claim: "claim",
}
_FIELDS = {family: f"{family}s" for family in _FAMILIES.values()}


@dataclass(frozen=True, slots=True)
class _Statement:
    text: str
    first_line: int


@cache
def _parser() -> Lark:
    return Lark(
        _GRAMMAR.read_text(encoding="utf-8"),
        parser="lalr",
        start=["statement", "condition"],
        maybe_placeholders=True,
        propagate_positions=True,
        edit_terminals=_end_at_its_end,
    )


def _end_at_its_end(terminal: TerminalDef) -> None:
    """Let a word of the language end where the word in the text ends: “atleast” is no “at least”, nor “sec” an “s”."""
    words = terminal.pattern.value
    if _LETTERS.fullmatch(words):
        terminal.pattern = PatternRE(f"(?:{words}){_WORD_ENDS}")
        terminal.priority = 1  # before a name, which every word of the language is as well


def parse_schedule(text: str) -> FunctionSchedule:
    """
    Return the schedule a text stands for.

    Parameters
    ----------
    text : str
        Statements in any order; within a family their order is the schedule's order.

    Returns
    -------
    FunctionSchedule
        With every name looked up.

    Raises
    ------
    LanguageError
        With every fault of every statement: its name, line, column, and what was expected there.

    Examples
    --------
    >>> schedule = parse_schedule('''
    ... input brake: signal meaning brake; wire C3-11
    ... channel "rear red": lamp; facing rear; colour red
    ... rule braking (priority 50): rear-red steady when brake; if lost, does not apply
    ... ''')
    >>> schedule.rules[0].targets
    ('rear red',)
    """
    faults: list[LanguageFault] = []
    unread: set[str] = set()
    places: dict[tuple[str, str], Place] = {}
    statements: dict[str, _Statement] = {}
    parts: dict[str, list[Part]] = {field: [] for field in _FIELDS.values()}
    for statement in _statements(text):
        try:
            part, reader = _read(statement)
        except LanguageError as error:
            faults += error.faults
            unread.add(_head(statement.text))
            continue
        family = _FAMILIES[type(part)]
        subject = f"{family}:{part.key}"
        name_at = statement.text.index(part.key, len(family)) + 1
        if subject in statements:
            place = place_in(statement.text, name_at - 1, first_line=statement.first_line)
            faults.append(fault("name-twice", place, subject=subject, found=part.key, what=family))
            continue
        statements[subject] = statement
        parts[_FIELDS[family]].append(part)
        for (where, role), at in {**reader.places, (subject, "name"): name_at}.items():
            places[where, role] = place_in(statement.text, at - 1, first_line=statement.first_line)

    def place_of(subject: str, role: str, at: int) -> Place:
        if at and subject in statements:
            statement = statements[subject]
            return place_in(statement.text, at - 1, first_line=statement.first_line)
        return places.get((subject, role), Place())

    made = FunctionSchedule(**{field: tuple(found) for field, found in parts.items()})  # type: ignore[arg-type]
    resolved, unresolved = resolve_schedule(made, place_of)
    # what a statement with a fault of its own would have declared is not missing
    faults += [one for one in unresolved if folded(one.found) not in unread]
    if faults:
        raise LanguageError(tuple(sorted(faults, key=lambda one: (one.place.line, one.place.column))))
    return resolved


def _head(text: str) -> str:
    """The name that a statement which cannot be read would have declared, as far as it can be told."""
    found = _HEAD.match(text)
    return folded(found[1] or found[2]) if found else ""


def parse_statement(text: str) -> Part:
    """
    Return the part one statement declares, its names not looked up.

    Parameters
    ----------
    text : str
        One statement.

    Raises
    ------
    LanguageError
        If it cannot be read.
    """
    found = list(_statements(text))
    if len(found) != 1:
        raise LanguageError((fault("ends-too-soon", Place(line=1, column=1), expected="one statement"),))
    return _read(found[0])[0]


def parse_condition(text: str, schedule: FunctionSchedule, *, reads_outputs: bool = False) -> Condition:
    """
    Return the condition a text stands for in a schedule.

    Parameters
    ----------
    text : str
        A condition alone, as in one field of a form.
    schedule : FunctionSchedule
        Whose names it uses.
    reads_outputs : bool, default False
        Whether it belongs to a claim, which may speak of outputs.

    Raises
    ------
    LanguageError
        With the column of each fault.

    Examples
    --------
    >>> from builds.engineering.functions.schedule import Input
    >>> from builds.engineering.functions.vocabulary import InputKind
    >>> parse_condition("mode is chase", FunctionSchedule(inputs=(
    ...     Input(key="mode", kind=InputKind.SELECTOR, positions=("off", "respond"), rest="off"),)))
    Traceback (most recent call last):
    builds.engineering.functions.faults.LanguageError: Line 1, column 9: “mode” is never “chase”; expected “off”, “respond” or “lost”.
    """
    reader = StatementReader(text=text, first_line=1)
    try:
        read = reader.condition(_tree(text, "condition", 1))
    except RecursionError:
        raise _too_deep(1) from None
    if depth_of(read) > _MOST_LEVELS:
        raise _too_deep(1)
    faults: list[LanguageFault] = []
    resolver = ConditionResolver(
        names_of(schedule), "", lambda _subject, _role, at: place_in(text, at - 1), reads_outputs, faults
    )
    condition = resolver.resolve(read)
    if faults:
        raise LanguageError(tuple(faults))
    return condition


def family_of(part: Part) -> str:
    """Return the word a part's statement begins with."""
    return _FAMILIES[type(part)]


def split_statements(text: str) -> Iterator[tuple[int, str]]:
    """Yield the line each statement begins at, from 1, and its own text, whether or not it can be read."""
    for statement in _statements(text):
        yield statement.first_line, statement.text


def _statements(text: str) -> Iterator[_Statement]:
    lines: list[str] = []
    first_line = 1
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip().startswith("#"):
            line = ""  # noqa: PLW2901 - a remark keeps its line, so that the lines below keep their numbers
        if line[:1].strip():
            if lines:
                yield _Statement("\n".join(lines).rstrip(), first_line)
            lines, first_line = [line], number
        elif lines:
            lines.append(line)
        elif line.strip():
            lines, first_line = [line], number
    if lines:
        yield _Statement("\n".join(lines).rstrip(), first_line)


def _read(statement: _Statement) -> tuple[Part, StatementReader]:
    reader = StatementReader(text=statement.text, first_line=statement.first_line)
    try:
        part = reader.part(_tree(statement.text, "statement", statement.first_line))
    except RecursionError:
        raise _too_deep(statement.first_line) from None
    conditions = (getattr(part, name, None) for name in ("condition", "then"))
    if any(condition is not None and depth_of(condition) > _MOST_LEVELS for condition in conditions):
        raise _too_deep(statement.first_line)
    return part, reader


def _too_deep(line: int) -> LanguageError:
    return LanguageError((fault("nested-too-deep", Place(line=line, column=1), expected=str(_MOST_LEVELS)),))


def _tree(text: str, start: str, first_line: int) -> Node:
    try:
        return _parser().parse(text, start=start)
    except UnexpectedInput as error:
        if start == "statement" and not text.startswith(tuple(_FIELDS)):
            found = text.split(None, 1)[0]
            place = Place(line=first_line, column=1 + len(text) - len(text.lstrip()))
            unknown = fault("statement-unknown", place, found=found, expected=quoted_or(_FIELDS))
            raise LanguageError((unknown,)) from error
        raise LanguageError((syntax_fault(error, text, first_line=first_line),)) from error
