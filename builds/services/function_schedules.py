"""The function schedule of a working design: text and form write the same thing, each as an edit that undo plays back."""

from collections.abc import Callable
from datetime import datetime

from builds.engineering.document.scales import text_length
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.functions.faults import LanguageError
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.rewriting import with_statement, without_statement
from builds.errors import BadInput, FieldConflict, NotHere, StaleRow
from builds.models import Build, EditBatch, Person
from builds.services.edit_batches import Edit, edit_design
from builds.services.function_rows import FAMILY, schedule_row, write_text

__all__ = ["ScheduleRefused", "edit_statement", "replace_schedule"]


class ScheduleRefused(BadInput):
    """Text that is no schedule; ``faults`` say where and what was expected, and nothing was written."""

    def __init__(self, error: LanguageError) -> None:
        super().__init__({"function_schedule": str(error)}, "This is not a function schedule that can be kept.")
        self.faults = error.faults


def replace_schedule(*, build: Build, text: str, row_version: int, by: Person, at: datetime) -> EditBatch:
    """
    Keep a text as the function schedule of a working design.

    Parameters
    ----------
    build : Build
        Whose design is edited; its ``design_version`` is brought up to date on the object given.
    text : str
        The whole schedule; empty takes it away.
    row_version : int
        The version the person saw, 0 where there was none.
    by, at
        Who edits, and when.

    Raises
    ------
    ScheduleRefused
        If it cannot be read; carries every fault with its line and column.
    StaleRow
        If someone kept another text meanwhile.
    """
    return _keep(build, by, at, row_version, lambda _: (_tidied(text), "function schedule"))


def edit_statement(
    *, build: Build, subject: str, statement: str, row_version: int, by: Person, at: datetime
) -> EditBatch:
    """
    Put one statement of the schedule in the place of another, as the form does; the rest of the text stays as it was typed.

    ``subject`` is "rule:warn", or empty for a new one; an empty ``statement`` takes it out. Raises as
    :func:`replace_schedule` does.
    """

    def change(before: str) -> tuple[str, str]:
        if not statement.strip():
            return without_statement(before, subject), f"{subject.replace(':', ' ')} taken out"
        return with_statement(before, subject, _tidied(statement)), f"{(subject or 'statement').replace(':', ' ')} kept"

    return _keep(build, by, at, row_version, change)


def _tidied(text: str) -> str:
    """The text with the line ends of one system and no blanks at the ends of lines."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", "  ").split("\n")
    tidy = "\n".join(line.rstrip() for line in lines).strip("\n")
    return tidy + "\n" if tidy else ""


def _keep(
    build: Build, by: Person, at: datetime, row_version: int, change: Callable[[str], tuple[str, str]]
) -> EditBatch:
    """``change`` gets the text as it stands and returns the new one and what the history says of it."""

    def make(edit: Edit) -> str:
        row = schedule_row(edit.build)
        before = row.text if row else ""
        try:
            text, words = change(before)
            _check(text)
        except LanguageError as error:
            raise ScheduleRefused(error) from error
        except UnknownTableEntry as error:
            raise NotHere("This statement is not in the schedule.") from error
        if (row.row_version if row else 0) != row_version and text != before:
            conflict = FieldConflict(field="function_schedule", yours=text, theirs=before)
            message = "Someone changed the function schedule while you had it open."
            raise StaleRow(message, conflicts=(conflict,), row_version=row.row_version if row else 0)
        write_text(edit.build, text)
        edit.note_functions(FAMILY, before, text)
        return words

    return edit_design(build, by, at, make)


def _check(text: str) -> None:
    most = text_length("Design", "function_schedule")
    if len(text) > most:
        raise BadInput({"function_schedule": f"The text is {len(text)} characters long; at most {most} are kept."})
    parse_schedule(text)
