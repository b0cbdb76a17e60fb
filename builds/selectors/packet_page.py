"""The packets of a build as the desk sees them, and the links its customer has."""

from dataclasses import dataclass
from datetime import datetime

from builds.models import Build, CustomerLink, PacketIssue
from builds.selectors.links import links_of

__all__ = ["LinkLine", "PacketLine", "link_lines", "newest_packet", "packet_lines", "packet_numbered"]

_SHAPES = {
    PacketIssue.State.QUEUED: "waiting",
    PacketIssue.State.RENDERING: "in_work",
    PacketIssue.State.READY: "done",
    PacketIssue.State.FAILED: "failed",
    PacketIssue.State.CANCELLED: "not_applicable",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PacketLine:
    """One issue: its state as a shape and a word, and who signed it."""

    packet: PacketIssue
    shape: str
    word: str
    is_going: bool
    is_newest: bool
    signed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkLine:
    """One link: whether it opens, and until when."""

    link: CustomerLink
    shape: str
    word: str
    is_open: bool


def packet_lines(build: Build) -> list[PacketLine]:
    """Return the issues of a build, the newest first."""
    rows = (
        build.packets.select_related("revision", "issued_by", "file")
        .prefetch_related("acceptances")
        .order_by("-number")
    )
    return [_line(row, is_newest=index == 0) for index, row in enumerate(rows)]


def packet_numbered(build: Build, number: int) -> PacketLine | None:
    """Return one issue of a build."""
    return next((line for line in packet_lines(build) if line.packet.number == number), None)


def newest_packet(build: Build) -> PacketIssue | None:
    """Return the newest issue that was rendered."""
    ready = build.packets.filter(state=PacketIssue.State.READY)
    return ready.select_related("revision__document", "as_built", "file").order_by("-number").first()


def _line(packet: PacketIssue, *, is_newest: bool) -> PacketLine:
    state = PacketIssue.State(packet.state)
    accepted = next(iter(packet.acceptances.all()), None)
    return PacketLine(
        packet=packet,
        shape=_SHAPES[state],
        word=state.label,
        is_going=state in (PacketIssue.State.QUEUED, PacketIssue.State.RENDERING),
        is_newest=is_newest,
        signed=accepted.typed_name if accepted else "",
    )


def link_lines(build: Build, *, at: datetime) -> list[LinkLine]:
    """Return the links of a build, the newest first."""
    return [_link_line(link, at) for link in links_of(build)]


def _link_line(link: CustomerLink, at: datetime) -> LinkLine:
    if link.revoked_at is not None:
        return LinkLine(link=link, shape="not_applicable", word="Closed", is_open=False)
    if link.expires_at is not None and link.expires_at <= at:
        return LinkLine(link=link, shape="not_applicable", word="Expired", is_open=False)
    return LinkLine(link=link, shape="pass", word="Open", is_open=True)
