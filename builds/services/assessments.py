"""The assessment of a working design, with its counts kept on the build for the job list."""

from builds.engineering.assess import assess
from builds.engineering.assessment import Assessment
from builds.engineering.design import Design
from builds.engineering.findings import Severity
from builds.models import Build
from builds.selectors.engineering_inputs import design_of
from builds.selectors.loaded_files import loaded_files_of

__all__ = ["assess_build", "assess_design_of"]


def assess_design_of(build: Build, design: Design | None = None) -> tuple[Design, Assessment]:
    """Return the working design (read here unless it is at hand) and what the core says of it; keep the counts."""
    design = design_of(build) if design is None else design
    assessment = assess(design, loaded_files_of(build) if design.function_schedule else ())
    counts = {
        "blocking_count": assessment.count(Severity.BLOCKING),
        "caution_count": assessment.count(Severity.CAUTION),
        "note_count": assessment.count(Severity.NOTE),
    }
    if build.assessed_version != build.design_version or any(getattr(build, name) != n for name, n in counts.items()):
        # Only where the design is still the one assessed: a later edit keeps its own counts.
        Build.objects.filter(pk=build.pk, design_version=build.design_version).update(
            assessed_version=build.design_version, **counts
        )
    for name, number in counts.items():
        setattr(build, name, number)
    build.assessed_version = build.design_version
    return design, assessment


def assess_build(build: Build) -> Assessment:
    """Return what the core says of the working design of ``build``."""
    return assess_design_of(build)[1]
