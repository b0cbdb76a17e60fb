"""What a reader of the language says where the grammar does not go on: the fault's name, its column, what was expected."""

from collections.abc import Iterable

from lark import Token, UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from builds.engineering.functions.faults import LanguageFault, Place, fault

__all__ = ["place_in", "quoted_or", "syntax_fault"]

_WORDS = {
    "NAME": "a name",
    "QUOTED": "a name",
    "NUMBER": "a number",
    "UNIT": "“ms”, “s” or “min”",
    "LPAR": "“(”",
    "RPAR": "“)”",
    "SEMICOLON": "“;”",
    "COMMA": "“,”",
    "COLON": "“:”",
    "PERCENT": "“%”",
    "SIDE": "“high” or “low”",
    "DARK": "“off”",
    "MS": "“ms”",
    "A": "“A”",
    "DOES": "“does not apply”",
    "$END": "the end",
}
_INSTEAD = {"&": "and", "|": "or", "!": "not", "=": "is", "~": "not", "<": "for at most", ">": "for at least"}


def place_in(text: str, offset: int, *, first_line: int = 1) -> Place:
    """
    Return the line and column of a place in a text.

    Parameters
    ----------
    text : str
        The statement.
    offset : int
        Characters before the place.
    first_line : int, default 1
        Line the statement begins on.
    """
    before = text[:offset]
    return Place(line=first_line + before.count("\n"), column=offset - (before.rfind("\n") + 1) + 1)


def quoted_or(words: Iterable[str]) -> str:
    """Return words as a choice: “a”, “b” or “c”."""
    return _or([f"“{word}”" for word in words])


def _or(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}" if words else "nothing more"


def syntax_fault(error: UnexpectedInput, text: str, *, first_line: int) -> LanguageFault:
    """
    Return the fault behind an error of the grammar.

    Parameters
    ----------
    error : lark.UnexpectedInput
        What the parser raised.
    text : str
        The statement it read.
    first_line : int
        Line the statement begins on.
    """
    if isinstance(error, UnexpectedCharacters):
        return _of_character(error, text, first_line)
    assert isinstance(error, UnexpectedToken)
    return _of_token(error, text, first_line)


def _of_character(error: UnexpectedCharacters, text: str, first_line: int) -> LanguageFault:
    offset = error.pos_in_stream or 0
    found = text[offset]
    place = place_in(text, offset, first_line=first_line)
    if found == '"':
        return fault("quote-open", place, found=found, expected='“"”')
    word = _INSTEAD.get(found)
    instead = f"; write “{word}”" if word else ""
    names = error.allowed & _accepted(error) if _accepted(error) else error.allowed
    return fault("character-unknown", place, found=found, expected=_expected(names), instead=instead)


def _accepted(error: UnexpectedCharacters) -> set[str]:
    state = getattr(error, "interactive_parser", None)
    return set(state.accepts()) if state is not None else set()


def _of_token(error: UnexpectedToken, text: str, first_line: int) -> LanguageFault:
    token, accepts = error.token, set(error.accepts or ())
    at_end = token.type == "$END"
    offset = len(text.rstrip()) if at_end else token.start_pos or 0
    place = place_in(text, offset, first_line=first_line)
    expected = _expected(accepts or error.expected)
    before = text[:offset].split()
    if token.type == "WHEN" or (before and before[-1] == "when" and "WHEN" in accepts):
        unsaid = _unsaid_name(text, offset, before, first_line)
        if unsaid is not None:
            return unsaid
    expected = _told(expected, token, accepts, before, text)
    if accepts in ({"OF"}, {"MOST"}) and token.type != "NUMBER":
        expected += f", or “{text[:offset].rsplit(maxsplit=1)[-1].strip('(')}” in quotation marks where it is a name"
    name, place = _name_of(token, accepts, text, offset, place, first_line)
    return fault(name, place, found=str(token), expected=expected)


def _unsaid_name(text: str, offset: int, before: list[str], first_line: int) -> LanguageFault | None:
    """The fault where “when” was taken for the name that should stand before it: of a pattern, or of a clock."""
    after = {"flash": "the name of a pattern", "sync": "the name of a clock"}
    if len(before) > 1 and before[-1] == "when" and before[-2] in after:
        place = place_in(text, text.rindex("when", 0, offset), first_line=first_line)
        return fault("word-unexpected", place, found="when", expected=after[before[-2]])
    return None


def _told(expected: str, token: Token, accepts: set[str], before: list[str], text: str) -> str:
    """What was expected, in the words of who typed it where the grammar's own say too little."""
    if accepts == {"QUOTED"}:
        return "a text in quotation marks"
    if accepts == {"LPAR"} and before[:1] == ["rule"]:
        return "“(priority 40)” or another number"
    if accepts == {"COMMA"} and token.type == "$END" and {"selector", "dimmer"} & set(before):
        return "“,” and another position"
    if accepts == {"COMMA"} and before[-3:-1] == ["one", "of"] and token.type != "NAME":
        return "“,” and another value; one alone follows “is” without “one of”"
    word = before[-1] if before else ""
    joins = token.type == "NAME" and word[-1:].isalnum() and accepts & {"COMMA", "COLON", "SEMICOLON", "$END"}
    if joins and not accepts & {"IS", "STEADY"} and text[: token.start_pos].rstrip() != text[: token.start_pos]:
        return f"{expected}, or “{word} {token}” in quotation marks where it is one name"
    return expected


def _name_of(  # noqa: PLR0911 - one return per fault, the most telling first
    token: Token, accepts: set[str], text: str, offset: int, place: Place, first_line: int
) -> tuple[str, Place]:
    """The most telling name for a token that does not fit, and the place to point at."""
    if not text[:offset].strip():
        return "statement-unknown", place
    if accepts == {"UNIT"}:
        return "unit-missing", place
    if accepts == {"AT"} and text[:offset].rsplit(maxsplit=1)[-1] == "for":
        return "timer-words-missing", place
    if (token.type == "AND" and "OR" in accepts) or (token.type == "OR" and "AND" in accepts):
        return "and-or-mixed", place
    if "RPAR" in accepts and (opened := _unclosed(text)) is not None:
        return "parenthesis-open", place_in(text, opened, first_line=first_line)
    if token.type == "RPAR":
        return "parenthesis-close", place
    if token.type == "$END":
        is_rule = text.split(None, 1)[0] == "rule"
        return ("fail-state-missing" if is_rule and "SEMICOLON" in accepts else "ends-too-soon"), place
    return "word-unexpected", place


def _unclosed(text: str) -> int | None:
    opened: list[int] = []
    quoted = False
    for offset, character in enumerate(text):
        quoted ^= character == '"'
        if quoted:
            continue
        if character == "(":
            opened.append(offset)
        elif character == ")" and opened:
            opened.pop()
    return opened[-1] if opened else None


def _expected(terminals: Iterable[str]) -> str:
    words = {_WORDS.get(name, f"“{name.lower()}”") for name in terminals}
    return _or(sorted(words, key=lambda word: (word != "a name", word.strip("“”"))))
