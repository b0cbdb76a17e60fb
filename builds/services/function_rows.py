"""The row that holds the text of a function schedule, written by edits and by what plays them back."""

from builds.errors import GuardRefused
from builds.models import Build, EditEntry, FunctionSchedule
from builds.services.edit_batches import Edit

__all__ = ["FAMILY", "play_back", "schedule_row", "write_text"]

FAMILY = "functions"  # what an entry of an edit calls it


def schedule_row(build: Build) -> FunctionSchedule | None:
    """Return the row of a build's schedule, if it has one."""
    return FunctionSchedule.objects.filter(build=build).first()


def write_text(build: Build, text: str) -> None:
    """Keep a text as the schedule of a build; the row stays when the text is taken away, so that its version counts on."""
    row = schedule_row(build)
    if row is None:
        FunctionSchedule.objects.create(build=build, text=text)
    else:
        row.text = text
        row.row_version += 1
        row.save(update_fields=["text", "row_version"])


def play_back(edit: Edit, entry: EditEntry) -> None:
    """Put the text back that an edit replaced. Raises GuardRefused where it has changed since."""
    assert entry.before is not None and entry.after is not None
    row = schedule_row(edit.build)
    if row is None or row.text != entry.after["text"]:
        raise GuardRefused("The function schedule has changed since; undo does not fit.", missing=("fits",))
    write_text(edit.build, entry.before["text"])
    edit.note_functions(FAMILY, row.text, entry.before["text"])
