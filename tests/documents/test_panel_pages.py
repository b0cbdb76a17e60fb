"""Small panels share a page of the packet, large ones have their own, and the foot names all that stand on a page."""

from dataclasses import replace

from builds.documents.packet_context import PacketContext
from builds.documents.sections.panels import panels_of
from tests.documents.conftest import frozen_packet
from tests.factories.designs import small_design


def test_small_panels_share_a_page_and_its_foot_names_both() -> None:
    design = small_design()
    first = next(node for node in design.nodes if node.panel is not None)
    assert first.panel is not None
    small = replace(first.panel, positions=4, columns=4)
    large = replace(first.panel, positions=60, columns=6)
    spare = tuple(
        replace(first, key=key, name=f"panel {key}", panel=panel)
        for key, panel in (("S1", small), ("S2", small), ("L1", large), ("S3", small))
    )
    frozen = frozen_packet(replace(design, nodes=(*design.nodes, *spare)))

    pages = {page.key: page for page in panels_of(PacketContext(input=frozen.input, design=frozen.design))}

    assert (pages["S2"].follows, pages["S1"].sheet) == (True, pages["S2"].sheet)
    assert "S1, S2" in pages["S1"].sheet
    assert (pages["L1"].follows, pages["L1"].sheet) == (False, "L1")
    assert not pages["S3"].follows
    assert not pages["S2"].has_caution_room and pages["S3"].has_caution_room
