"""Photos: looked at by content, upright, without what the camera wrote into them, and kept once."""

import io
import struct
import zlib
from uuid import uuid4

import pytest
from PIL import Image

from builds.errors import BadInput, NotAllowed, Taken
from builds.models import Photo, Role, StoredFile
from builds.services.photos import LARGEST_BYTES, add_photo, prepare_photo
from builds.services.stored_files import open_stored
from tests.factories.builds import AT, make_build, make_person
from tests.factories.floor import make_photo_file, make_step

ORIENTATION, MAKE, GPS = 0x0112, 0x010F, 0x8825


def opened(content: bytes) -> Image.Image:
    return Image.open(io.BytesIO(content))


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_prepare_photo_always_writes_a_jpeg(form: str) -> None:
    prepared = prepare_photo(make_photo_file(form))

    picture = opened(prepared.content)
    assert (picture.format, picture.mode, picture.size) == ("JPEG", "RGB", (64, 48))
    assert (prepared.width_px, prepared.height_px) == (64, 48)


def test_prepare_photo_turns_it_upright_and_drops_all_metadata() -> None:
    exif = Image.Exif()
    exif[ORIENTATION] = 6  # the camera was held on its side: turn a quarter clockwise to see it
    exif[MAKE] = "Invented camera"
    exif.get_ifd(GPS)[2] = (48.0, 30.0, 0.0)
    original = make_photo_file(exif=exif, comment=b"who took it")
    assert b"Invented camera" in original

    prepared = prepare_photo(original)

    picture = opened(prepared.content)
    assert picture.size == (48, 64)
    # the red left half stands on top after a quarter turn clockwise
    red, _, _ = picture.getpixel((24, 10))
    assert red > 150 and picture.getpixel((24, 55)) > (240, 240, 240)
    assert not dict(picture.getexif()) and "comment" not in picture.info
    assert b"Invented camera" not in prepared.content


def test_prepare_photo_keeps_the_longest_side_to_2048() -> None:
    prepared = prepare_photo(make_photo_file(size=(4000, 3000)))

    assert (prepared.width_px, prepared.height_px) == (2048, 1536)


def test_prepare_photo_lays_what_is_clear_on_white() -> None:
    clear = io.BytesIO()
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(clear, "PNG")

    assert opened(prepare_photo(clear.getvalue()).content).getpixel((4, 4)) == (255, 255, 255)


def claims_pixels(width: int, height: int) -> bytes:
    """A PNG of 60 bytes whose header claims a picture of any size."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")


GIF = io.BytesIO()
Image.new("P", (8, 8)).save(GIF, "GIF")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        pytest.param(b"", "empty", id="nothing"),
        pytest.param(b"%PDF-1.7 not a photo", "not a photo", id="pdf"),
        pytest.param(b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a photo", id="svg"),
        pytest.param(GIF.getvalue(), "not a photo", id="gif"),
        pytest.param(make_photo_file()[:300], "damaged", id="cut off"),
        pytest.param(make_photo_file("PNG")[:-40], "damaged", id="png cut off"),
        pytest.param(claims_pixels(8000, 6000), "40 million pixels", id="48 million pixels"),
        pytest.param(claims_pixels(12000, 9000), "40 million pixels", id="where the library warns"),
        pytest.param(claims_pixels(60000, 60000), "40 million pixels", id="where the library refuses"),
        pytest.param(make_photo_file() + b"\0" * LARGEST_BYTES, "over 15 MB", id="too many bytes"),
    ],
)  # fmt: skip
def test_prepare_photo_refuses_with_words(content: bytes, words: str) -> None:
    with pytest.raises(BadInput, match=words) as refused:
        prepare_photo(content)
    assert list(refused.value.fields) == ["photo"]


@pytest.mark.django_db
def test_add_photo_twice_with_one_id_keeps_one() -> None:
    build, person, event_id = make_build(), make_person(Role.TECHNICIAN), uuid4()
    step = make_step(build)

    first = add_photo(
        build=build, kind="step", step=step, content=make_photo_file(), event_id=event_id, by=person, at=AT
    )
    again = add_photo(
        build=build, kind="step", step=step, content=make_photo_file(), event_id=event_id, by=person, at=AT
    )

    assert first.pk == again.pk
    assert (Photo.objects.count(), StoredFile.objects.count()) == (1, 1)
    with open_stored(first.file) as content:
        assert opened(content.read()).format == "JPEG"


@pytest.mark.django_db
def test_add_photo_with_an_id_of_another_photo_is_refused() -> None:
    build, person, event_id = make_build(), make_person(Role.TECHNICIAN), uuid4()
    add_photo(build=build, kind="step", content=make_photo_file(), event_id=event_id, by=person, at=AT)

    with pytest.raises(Taken, match="another photo"):
        add_photo(build=build, kind="step", content=make_photo_file(size=(20, 20)), event_id=event_id, by=person, at=AT)
    assert Photo.objects.count() == 1


@pytest.mark.django_db
def test_add_photo_of_another_builds_step_is_refused_and_nothing_is_kept() -> None:
    build, person = make_build(), make_person(Role.TECHNICIAN)

    with pytest.raises(BadInput, match="another build"):
        add_photo(
            build=build, kind="step", step=make_step(make_build()), content=make_photo_file(), event_id=uuid4(), by=person,
            at=AT,
        )  # fmt: skip
    assert not Photo.objects.exists() and not StoredFile.objects.exists()


@pytest.mark.django_db
def test_add_photo_by_someone_who_left_is_refused() -> None:
    person = make_person(Role.TECHNICIAN, is_active=False)

    with pytest.raises(NotAllowed):
        add_photo(build=make_build(), kind="step", content=make_photo_file(), event_id=uuid4(), by=person, at=AT)
