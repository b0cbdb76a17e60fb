"""Steps that are not done: which of them were named as open items, and which may never be."""

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from builds.engineering.open_steps import why_never_open
from builds.models import Build, ChecklistStep, Stage
from builds.models.floor import StepResult

__all__ = ["named_open", "open_item_words", "open_steps", "why_step_never_open"]

DONE = (StepResult.PASS, StepResult.NOT_APPLICABLE)


def open_steps(build: Build) -> QuerySet[ChecklistStep]:
    """Return the steps that are neither passed nor not applicable, hold points apart."""
    return build.steps.filter(retired=False, is_hold_point=False).exclude(result__in=DONE)


def named_open(build: Build) -> Mapping[str, dict[str, Any]]:
    """Return the open items of the newest move to the final check, by the key of their step."""
    change = build.stage_changes.filter(from_stage=Stage.IN_WORK, to_stage=Stage.FINAL_CHECK).last()
    return {item["step"]: item for item in change.open_items} if change else {}


def why_step_never_open(step: ChecklistStep) -> str:
    """Return what a step is about that may never be left open, in words; empty where it may."""
    calculated, maximum = step.reading_calculated, step.reading_max
    of_limit_ratio = float(calculated / maximum) if calculated is not None and maximum else None
    return why_never_open(step.key, words=(step.title, step.why, *step.instructions), of_limit_ratio=of_limit_ratio)


def open_item_words(item: Mapping[str, Any]) -> str:
    """Return an open item in one line."""
    return f"{item['part']}: {item['reason']}; {item['who_returns']} comes back by {item['by_when']}"
