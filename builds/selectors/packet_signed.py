"""Whether the customer signed the packet that counts: the newest one, rendered, of the newest revision, by its file's hash."""

from django.db.models import Exists, F, OuterRef, Subquery

from builds.models import Acceptance, PacketIssue, Revision, Stage

__all__ = ["packet_signed"]

_OUT = (PacketIssue.State.FAILED, PacketIssue.State.CANCELLED)


def packet_signed() -> Exists:
    """
    Return the question for a query of builds: is this build ready, and its packet signed?

    The guard of the move to delivered asks the same of one build, and ``config/database/job_list.sql`` of the plain list.
    """
    of_build = {"build": OuterRef("packet__build")}
    newest = PacketIssue.objects.filter(**of_build).exclude(state__in=_OUT).order_by("-number").values("pk")[:1]
    revision = Revision.objects.filter(**of_build).order_by("-sequence").values("pk")[:1]
    return Exists(
        Acceptance.objects.filter(
            packet__build=OuterRef("pk"), packet__build__stage=Stage.READY, packet__state=PacketIssue.State.READY,
            packet=Subquery(newest), packet__revision=Subquery(revision), file_sha256=F("packet__file__sha256"),
        )
    )  # fmt: skip
