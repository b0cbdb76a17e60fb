"""What section 5 of a packet prints of a jump start: the platform's posts and order, and the devices that do not bear one."""

from dataclasses import replace

from builds.documents.packet import packet_html
from builds.engineering.design import Design
from builds.engineering.vocabulary import ReversedBattery
from tests.documents.conftest import frozen_packet
from tests.factories.designs import small_design


def printed(design: Design) -> str:
    return " ".join(packet_html(frozen_packet(design, with_photo=False)).split())


def told() -> Design:
    design = small_design()
    first = replace(design.loads[0], jump_v=18.0, reversed_battery=ReversedBattery.HARMED)
    platform = replace(
        design.platform, jump_posts="red cap in the engine bay", jump_order="positive first, guide page 12"
    )
    return replace(design, loads=(first, *design.loads[1:]), platform=platform)


def test_posts_and_order_of_the_platform_are_printed() -> None:
    text = printed(told())

    assert "Posts recorded for this platform: red cap in the engine bay." in text
    assert "Order: positive first, guide page 12." in text
    assert "No jump posts were recorded" not in text


def test_devices_that_do_not_bear_it_are_named_with_what_they_bear() -> None:
    name = told().loads[0].name
    text = printed(told())

    assert f"do not bear 24 V: take their fuses out before a 24 V vehicle helps. {name}" in text and ", 18 V." in text
    assert f"the wrong way round harms: {name}" in text


def test_a_build_of_which_nothing_is_known_names_no_device() -> None:
    text = printed(small_design())

    assert "No jump posts were recorded for this build." in text
    assert "do not bear 24 V" not in text and "the wrong way round harms" not in text
