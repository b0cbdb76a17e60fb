"""The edits of a working design, as they were made."""

from builds.models import Build, EditBatch

__all__ = ["last_edit"]


def last_edit(build: Build) -> EditBatch | None:
    """Return the newest edit that could be undone: neither undone already nor an undoing itself."""
    edits = build.edit_batches.filter(undoes__isnull=True, undone_by__isnull=True)
    return edits.select_related("by").order_by("-design_version").first()
