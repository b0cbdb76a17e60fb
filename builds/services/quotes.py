"""The quote of a build: which revision may still be ordered, and what must be asked before a customer sees it."""

from builds.engineering.assess import assess
from builds.engineering.findings import Finding
from builds.models import Build, Revision, Stage
from builds.services.overrides import open_blocking
from builds.services.revisions import design_of_revision, newest_revision

__all__ = ["blocking_of", "quote_to_sign"]


def quote_to_sign(build: Build) -> Revision | None:
    """Return the newest revision if nobody has authorised it yet and the build still can be ordered."""
    if build.stage in (Stage.DELIVERED, Stage.CLOSED, Stage.CANCELLED):
        return None
    revision = newest_revision(build)
    return None if revision is None or revision.authorisations.exists() else revision


def blocking_of(revision: Revision) -> tuple[Finding, ...]:
    """Return the blocking findings of a revision for which no override is recorded."""
    return open_blocking(revision.build, assess(design_of_revision(revision)))
