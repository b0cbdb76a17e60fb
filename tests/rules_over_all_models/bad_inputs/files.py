"""Bad files: parts lists, build documents chosen at the desk, photos."""

import json
import struct
import zlib
from collections.abc import Callable
from typing import Any
from uuid import uuid4

from django.core.files.uploadedfile import SimpleUploadedFile

from builds.models import Role
from tests.engineering.document.samples import small_document
from tests.factories.floor import make_photo_file
from tests.factories.two_builds import TwoBuilds
from tests.rules_over_all_models.bad_inputs.table import PAGE, Bad, Good

__all__ = ["AS_FILES", "PHOTO", "picture_and_page"]

Sent = Callable[[TwoBuilds], dict[str, Any]]


def _no_arguments(shop: TwoBuilds) -> dict[str, Any]:
    return {}


def _file(field: str, content: bytes | Callable[[], bytes], name: str = "list.csv", kind: str = "text/csv") -> Sent:
    """A file in a field; one that is large is made when it is sent."""
    return lambda shop: {
        field: SimpleUploadedFile(name, content() if callable(content) else content, content_type=kind)
    }


HEADS = b"number,description,unit_price,mass_kg,taxed,load_model\n"
LIST = Good(
    what="a parts list", route="part-list-upload", fill=_no_arguments, who=Role.PARTS_CLERK,
    data=_file("file", HEADS + b"INV-900,Lamp,12.50,0.4,yes,\n"),
)  # fmt: skip


def _rows(text: str, heads: bytes = HEADS) -> Sent:
    return _file("file", heads + text.encode())


DOCUMENT = Good(
    what="a document chosen at the desk", route="build-open", fill=_no_arguments, query="?start=document",
    data=_file("document", json.dumps(small_document()).encode(), "9001.json", "application/json"),
)  # fmt: skip


def _document(content: bytes | Callable[[], bytes]) -> Sent:
    return _file("document", content, "9001.json", "application/json")


def png_that_claims(width: int, height: int) -> bytes:
    """A PNG of a few hundred bytes whose header claims a huge picture."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\x00" * 1000))
        + chunk(b"IEND", b"")
    )


def picture_and_page() -> bytes:
    """A sound JPEG with a page and a script behind it."""
    return make_photo_file() + b"<html><script>alert(1)</script></html>"


PHOTO = Good(
    what="a photo", route="step-photo", who=Role.TECHNICIAN,
    fill=lambda shop: {"number": shop.own.number, "pk": shop.own.step.pk},
    data=lambda shop: {"event_id": str(uuid4()), **_photo(picture_and_page)(shop)},
)  # fmt: skip
SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
ELF = b"\x7fELF" + b"\x00" * 64


def _photo(content: bytes | Callable[[], bytes], name: str = "../../etc/passwd.jpg") -> Sent:
    return _file("photo", content, name, "image/jpeg")


NOT_A_PHOTO = "This is not a photo. Send a JPEG, PNG or WebP file."

AS_FILES: list[Bad] = [
    *LIST.bad(
        ("no file", {"file": None}, "file", "Choose the file with the parts list."),
        ("an empty file", _file("file", b""), "file", "The file is empty."),
        ("a file of 3 MB", _file("file", lambda: HEADS + b"x" * 3_000_000), PAGE, "1 file is larger than 2 MB"),
        ("not UTF-8", _file("file", HEADS + b"INV-901,L\xe4mp,1,1,yes,\n"), PAGE, "2 file is not UTF-8 text"),
        ("a NUL in it", _file("file", HEADS + b"INV-901,La\x00mp,1,1,yes,\n"), PAGE, "1 file holds a NUL character"),
        ("a spreadsheet's own format", _file("file", b"PK\x03\x04" + b"\xff" * 60, "list.xlsx"), PAGE, "is not UTF-8 text"),
        ("a column nobody knows", _rows("INV-901,1,2\n", b"number,description,taste\n"), PAGE, "1 taste there is no such column"),
        ("a column left out", _rows("INV-901\n", b"number\n"), PAGE, "1 description this column is missing"),
        ("a column twice", _rows("a,b,c\n", b"number,description,number\n"), PAGE, "1 number this column is there twice"),
        ("columns but no parts", _rows(""), PAGE, "2 line the list names columns but no parts"),
        ("a part without a number", _rows(",Lamp,1,1,yes,\n"), PAGE, "2 number must not be empty"),
        ("a price below zero", _rows("INV-901,Lamp,-1,1,yes,\n"), PAGE, "2 unit_price -1 must be from 0 to 1000000"),
        ("a price with a comma", _rows('INV-901,Lamp,"12,50",1,yes,\n'), PAGE, "2 unit_price '12,50' is not a number"),
        ("a price that is none", _rows("INV-901,Lamp,NaN,1,yes,\n"), PAGE, "2 unit_price NaN must be from 0"),
        ("a price of infinity", _rows("INV-901,Lamp,1e400,1,yes,\n"), PAGE, "2 unit_price 1e400 must be from 0"),
        ("a price of five decimals", _rows("INV-901,Lamp,1.00005,1,yes,\n"), PAGE, "2 unit_price 1.00005 has more than 4 decimals"),
        ("a number of 61 letters", _rows("x" * 61 + ",Lamp,1,1,yes,\n"), PAGE, "2 number is longer than 60 characters"),
        ("the same number twice", _rows("A,Lamp,1,1,yes,\nA,Lamp,1,1,yes,\n"), PAGE, "3 number A stands in line 2 already"),
        ("a cell too many", _rows("A,Lamp,1,1,yes,,\n"), PAGE, "2 line has 7 cells, the head has 6"),
        ("a quotation mark left open", _rows('A,"Lamp,1,1,yes,\n'), PAGE, "line cannot be read as CSV"),
        ("neither yes nor no", _rows("A,Lamp,1,1,maybe,\n"), PAGE, "2 taxed 'maybe' must be yes or no"),
        ("a load without its current", _rows("A,Lamp,1,1,yes,resistive\n"), PAGE, "2 load_model needs load_current_a"),
        ("one bad line after a good one", _rows("A,Lamp,1,1,yes,\nB,,1,1,yes,\n"), PAGE, "3 description must not be empty"),
    ),
    *DOCUMENT.bad(
        ("no file", {"document": None, "number": ""}, "document", "Choose the file."),
        ("an empty file", _document(b""), "document", "This file is empty."),
        ("a file of 6 MB", _document(lambda: b" " * 6_000_000), "document", "This file is larger than 5 MB"),
        ("not JSON", _document(b"{'format': 1}"), PAGE, "line 1, column 2"),
        ("another sort of document", _document(b'{"format": "recipe"}'), PAGE, "/format"),
        ("a title of 161 letters", _document(json.dumps(small_document()).replace("One work lamp", "x" * 161).encode()), PAGE,
         "/build/title"),
        ("markup where a number stands", _document(json.dumps(small_document()).replace("9001", "<b>9</b>").encode()), PAGE,
         "/build/number"),
        ("a number that is in use", lambda shop: {"number": shop.own.number}, "number", "This number is taken."),
        ("a number with a stroke", {"number": "../1"}, "number", "1 to 12 letters, digits and -"),
    ),
    *PHOTO.bad(
        ("none", {"photo": None}, PAGE, "Take a photo, or choose one."),
        ("an empty one", _photo(b""), PAGE, "The file is empty. Take the photo again."),
        ("a drawing with a script", _photo(SVG, "photo.jpg"), PAGE, NOT_A_PHOTO),
        ("a page", _photo(b"<html><script>alert(1)</script></html>"), PAGE, NOT_A_PHOTO),
        ("a program", _photo(ELF, "photo.jpg.exe"), PAGE, NOT_A_PHOTO),
        ("a film", _photo(lambda: make_photo_file("GIF")), PAGE, NOT_A_PHOTO),
        ("a PostScript file", _photo(b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n"), PAGE, NOT_A_PHOTO),
        ("the first half of one", _photo(lambda: make_photo_file(size=(640, 480))[:600]), PAGE, "The photo is damaged"),
        ("a picture of 3,600 million pixels", _photo(png_that_claims(60_000, 60_000)), PAGE, "million pixels. Take it smaller."),
        ("a picture just too large", _photo(png_that_claims(8_000, 6_000)), PAGE, "over 40 million pixels. Take it smaller."),
        ("a file of 16 MB", _photo(lambda: make_photo_file() + b"\x00" * 16 * 1024 * 1024), PAGE, "The photo is over 15 MB."),
        ("words of 161 letters under it", {"caption": "x" * 161}, PAGE, "160"),
        ("no id", {"event_id": ""}, PAGE, "The photo was not kept"),
    ),
]  # fmt: skip
