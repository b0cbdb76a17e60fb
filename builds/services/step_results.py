"""
What a step's row repeats of its newest tick or signature, and the counts a build keeps of its steps.

Only ticks, hold points and the making of the checklist write these; each holds the build's row locked while it does.
"""

from datetime import datetime

from builds.models import Build, ChecklistStep, Person, StepResult

__all__ = ["DONE", "count_steps", "lock_build", "reopen", "reopen_holds_over", "set_result"]

DONE = (StepResult.PASS, StepResult.NOT_APPLICABLE)


def lock_build(build_id: int) -> Build:
    """Return the build with its row locked: what happens to the steps of one build stands in line."""
    return (
        Build.objects.select_for_update(no_key=True, of=("self",)).select_related("vehicle", "profile").get(pk=build_id)
    )


def set_result(step: ChecklistStep, result: StepResult, *, by: Person, at: datetime) -> None:
    """Let the step's row say its newest result."""
    step.result, step.result_by, step.result_at = result, by, at
    step.save(update_fields=["result", "result_by", "result_at"])


def reopen(step: ChecklistStep) -> None:
    """Let the step stand open again; its ticks and signatures stay as they were."""
    step.result, step.result_by, step.result_at = "", None, None
    step.save(update_fields=["result", "result_by", "result_at"])


def reopen_holds_over(step: ChecklistStep) -> None:
    """Open the hold points that cover a step: a signature speaks of what was there when it was given."""
    for hold in step.covered_by.filter(is_hold_point=True).exclude(result=""):
        reopen(hold)


def count_steps(build: Build) -> None:
    """Bring the build's counts of steps up to date."""
    steps = ChecklistStep.objects.filter(build=build, retired=False)
    build.step_count = steps.count()
    build.step_done_count = steps.filter(result__in=DONE).count()
    Build.objects.filter(pk=build.pk).update(step_count=build.step_count, step_done_count=build.step_done_count)
