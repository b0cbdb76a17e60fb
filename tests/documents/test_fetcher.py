"""The renderer reads the project's own static files and the packet's own photos, and nothing else, loudly."""

from pathlib import Path

import pytest

from builds.documents.fetcher import BASE_ADDRESS, PacketFetcher, RefusedAddress
from builds.documents.packet import render_packet_pdf
from builds.documents.progress import RenderFault
from tests.documents.conftest import find_static, frozen_packet, photo, rendered
from tests.factories.designs import small_design

SHA256 = "a" * 64


@pytest.fixture
def fetcher() -> PacketFetcher:
    return PacketFetcher(find_static=find_static, read_media={SHA256: photo})


def test_fetch_gives_static_files_and_named_photos(fetcher: PacketFetcher) -> None:
    assert b"@page" in fetcher.fetch(BASE_ADDRESS + "static/css/packet.css").read()
    assert fetcher.fetch(BASE_ADDRESS + f"media/{SHA256}").read() == photo()


@pytest.mark.parametrize(
    "address",
    [
        "http://127.0.0.1:9/x.png",
        "https://example.com/x.png",
        "http://packet.invalid/static/css/packet.css",
        "https://packet.invalid.example/static/css/packet.css",
        "https://packet.invalid:444/static/css/packet.css",
        "https://someone@packet.invalid/static/css/packet.css",
        "file:///etc/passwd",
        "ftp://example.com/x",
        "data:text/css,p{}",
        "//example.com/x.css",
        BASE_ADDRESS + "media/" + "b" * 64,
        BASE_ADDRESS + "media/../../etc/passwd",
        BASE_ADDRESS + "static/../settings.py",
        BASE_ADDRESS + "static/%2e%2e/settings.py",
        BASE_ADDRESS + "static//etc/passwd",
        BASE_ADDRESS + "static/css/nothing.css",
        BASE_ADDRESS + "static/js/htmx.min.js",
        BASE_ADDRESS + "builds/",
        BASE_ADDRESS,
    ],
)
def test_fetch_refuses_everything_else(fetcher: PacketFetcher, address: str) -> None:
    with pytest.raises(RefusedAddress):
        fetcher.fetch(address)


@pytest.mark.parametrize(
    "markup",
    [
        '<img src="http://127.0.0.1:9/x.png">',
        '<img src="file:///etc/hostname">',
        '<link rel="stylesheet" href="file:///etc/hostname">',
        "<style>@import url(http://127.0.0.1:9/x.css);</style>",
        '<p style="background: url(http://127.0.0.1:9/x.png)">x</p>',
        f'<img src="/media/{"c" * 64}">',
    ],
)
def test_a_render_that_asks_for_anything_else_ends_at_once(fetcher: PacketFetcher, markup: str) -> None:
    from weasyprint import HTML

    with pytest.raises(RefusedAddress, match="The packet asked for"):
        HTML(string=markup, base_url=BASE_ADDRESS, url_fetcher=fetcher).write_pdf()


def test_a_refusal_inside_a_drawing_ends_the_packet_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    from builds.documents import packet

    monkeypatch.setattr(
        packet,
        "packet_html",
        lambda *_: '<svg width="9" height="9"><image href="http://127.0.0.1:9/x.png" width="1" height="1"/></svg>',
    )

    with pytest.raises(RefusedAddress, match="Nothing outside is read"):
        rendered(frozen_packet(small_design(), with_photo=False))


def test_a_picture_that_cannot_be_read_ends_the_packet() -> None:
    frozen = frozen_packet(small_design())

    with pytest.raises(RenderFault, match="Failed to load image"):
        render_packet_pdf(
            frozen,
            find_static=find_static,
            read_media={item.sha256: lambda: b"no picture" for item in frozen.input.photos},
        )


def test_a_photo_that_is_lost_is_named_by_its_place() -> None:
    def lost() -> bytes:
        raise FileNotFoundError(Path("gone"))

    fetcher = PacketFetcher(find_static=find_static, read_media={"b" * 64: photo, SHA256: lost})

    with pytest.raises(RefusedAddress, match="Photo 2 could not be read"):
        fetcher.fetch(BASE_ADDRESS + f"media/{SHA256}")
