"""A whole design as rows of an empty build, in a fixed number of statements however large it is."""

import dataclasses
from typing import Any

from builds import models
from builds.engineering.design import Design
from builds.models import Build
from builds.services.design_rows import FAMILIES, References, columns_of, uses_of
from inventory.services.catalogue import ensure_parts

__all__ = ["write_design"]


def write_design(build: Build, design: Design) -> None:
    """
    Write every part of a design as rows of a build that has none; call inside an atomic block.

    Names between the parts become references; a part that the catalogue does not have yet is put into it.
    """
    parts = ensure_parts(design.parts)
    found: dict[str, dict[str, Any]] = {
        field.name: {} for field in dataclasses.fields(References) if field.name != "parts"
    }
    for family in FAMILIES.values():
        refs = References(parts=parts, **found)
        listed = getattr(design, family.related_name)
        made = family.model._default_manager.bulk_create(
            family.model(build=build, line=line, **columns_of(part, refs)) for line, part in enumerate(listed, start=1)
        )
        if family.related_name in found:
            found[family.related_name] = {getattr(row, family.key_field): row for row in made}
        if family.name == "condition":
            on = (use for row, part in zip(made, listed, strict=True) for use in uses_of(row, part, found["loads"]))
            models.LoadUse.objects.bulk_create(on)
    if design.function_schedule:
        models.FunctionSchedule.objects.create(build=build, text=design.function_schedule)
