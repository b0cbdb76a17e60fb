"""
One edit of a working design as a batch: the build's row is locked, its version goes up by one, and what changed is noted.

``design_version`` counts edits, keys the assessment and tells other screens; the batch is what undo plays back.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F

from builds import models
from builds.errors import GuardRefused, Meanwhile
from builds.models import EditBatch, EditEntry, Person
from builds.permissions import Action, check_may
from builds.services.actors import act_as
from builds.services.design_rows import Family

__all__ = ["Edit", "edit_design"]

_CLOSED = (models.Stage.DELIVERED, models.Stage.CLOSED, models.Stage.CANCELLED)


@dataclass(slots=True)
class Edit:
    """An edit in the making: the locked build, what has changed so far, and what others changed in the same rows."""

    build: models.Build
    by: Person
    at: datetime
    entries: list[tuple[str, str, Any, Any]] = field(default_factory=list)
    meanwhile: list[Meanwhile] = field(default_factory=list)

    def note(self, family: Family, key: str, before: Any, after: Any) -> None:
        """Write down what a row was and is; ``None`` where it was not or is no more."""
        self.entries.append((family.name, key, before, after))

    def note_functions(self, family: str, before: str, after: str) -> None:
        """Write down the text of the function schedule before and after."""
        self.entries.append((family, "schedule", {"text": before}, {"text": after}))


def edit_design(
    build: models.Build, by: Person, at: datetime, change: Callable[[Edit], str], undoes: list[EditBatch] | None = None
) -> EditBatch:
    """
    Lock a build, let ``change`` work on it, and keep what it noted as one batch under the words it returns.

    Raises NotAllowed, or GuardRefused where the build is delivered, closed or cancelled.
    """
    check_may(by, Action.EDIT_DESIGN)
    with transaction.atomic():
        act_as(by)
        locked = models.Build.objects.select_for_update().select_related("platform").get(pk=build.pk)
        if locked.stage in _CLOSED:
            raise GuardRefused(
                f"Build {locked.number} is {locked.stage}; its design stands as it is.", missing=("open",)
            )
        edit = Edit(build=locked, by=by, at=at)
        words = change(edit)
        models.Build.objects.filter(pk=build.pk).update(design_version=F("design_version") + 1)
        build.design_version = locked.design_version + 1
        batch = EditBatch.objects.create(
            build=locked, design_version=build.design_version, words=words[:200], by=by, at=at,
            undoes=undoes[0] if undoes else None,
        )  # fmt: skip
        EditEntry.objects.bulk_create(
            EditEntry(batch=batch, family=family, key=key, before=before, after=after)
            for family, key, before, after in edit.entries
        )
    batch.meanwhile = tuple(edit.meanwhile)
    return batch
