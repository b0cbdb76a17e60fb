"""
One statement of a text put in the place of another: what a form writes, with the rest left as people typed it.

Remarks, order and line breaks of all other statements stay.
"""

from builds.engineering.errors import UnknownTableEntry
from builds.engineering.functions.faults import LanguageError
from builds.engineering.functions.language import family_of, parse_schedule, parse_statement, split_statements

__all__ = ["as_typed", "statement_texts", "with_statement", "without_statement"]


def statement_texts(text: str) -> dict[str, tuple[int, str]]:
    """
    Return the statements of a text that can be read, by subject.

    Parameters
    ----------
    text : str
        A schedule.

    Returns
    -------
    dict
        "rule:warn" → the line it begins at, from 1, and its own text; in reading order.
    """
    found: dict[str, tuple[int, str]] = {}
    for first_line, own in split_statements(text):
        try:
            part = parse_statement(own)
        except LanguageError:
            continue
        found.setdefault(f"{family_of(part)}:{part.key}", (first_line, own))
    return found


def with_statement(text: str, subject: str, statement: str) -> str:
    r"""
    Return the text with one statement in the place of another.

    Parameters
    ----------
    text : str
        A schedule.
    subject : str
        "rule:warn", or empty to add the statement after the last one of its family.
    statement : str
        One statement.

    Raises
    ------
    LanguageError
        If ``statement`` is none.
    UnknownTableEntry
        If the text has no statement of that subject.

    Examples
    --------
    >>> print(with_statement("# of the van\ninput a: toggle\ninput b: hold\n", "input:a", "input a: latching"))
    # of the van
    input a: latching
    input b: hold
    <BLANKLINE>
    """
    own = statement.strip("\n").split("\n")
    lines, places = text.split("\n"), statement_texts(text)
    if subject:
        first, end = _span(text, subject)
        return "\n".join([*lines[:first], *own, *lines[end:]])
    family = family_of(parse_statement(statement))
    same = [_span(text, one)[1] for one in places if one.startswith(f"{family}:")]
    at = max(same) if same else len(text.rstrip("\n").split("\n")) if text.strip() else 0
    return "\n".join([*lines[:at], *own, *lines[at:]]) if text.strip() else "\n".join([*own, ""])


def as_typed(text: str, subject: str, statement: str) -> str:
    """
    Return a statement as the text has it where a new wording says nothing else, else the new wording.

    Parameters
    ----------
    text : str
        A schedule without faults.
    subject : str
        "rule:warn", or empty for a new statement.
    statement : str
        What a form wrote.
    """
    if not subject:
        return statement
    try:
        same = parse_schedule(with_statement(text, subject, statement)) == parse_schedule(text)
    except LanguageError:
        return statement
    return "\n".join(text.split("\n")[slice(*_span(text, subject))]) if same else statement


def without_statement(text: str, subject: str) -> str:
    """Return the text without one statement. Raises UnknownTableEntry."""
    first, end = _span(text, subject)
    lines = text.split("\n")
    return "\n".join([*lines[:first], *lines[end:]])


def _span(text: str, subject: str) -> tuple[int, int]:
    """The lines of a statement, from 0, its end excluded."""
    found = statement_texts(text).get(subject)
    if found is None:
        raise UnknownTableEntry("The schedule", subject)
    first_line, own = found
    return first_line - 1, first_line - 1 + own.count("\n") + 1
