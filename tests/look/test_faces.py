"""The faces are all there, and letters outside the Latin files come out as themselves in a PDF."""

import re
from pathlib import Path

import pypdfium2
import pytest

STATIC = Path(__file__).parents[2] / "config/static"


@pytest.mark.parametrize("name", ["fonts.css", "fonts-print.css"])
def test_every_face_named_is_in_the_folder(name: str) -> None:
    addresses = re.findall(r'url\("\.\./(fonts/[^"]+)"\)', (STATIC / "css" / name).read_text(encoding="utf-8"))

    assert len(addresses) == 12
    assert [address for address in addresses if not (STATIC / address).is_file()] == []


def test_every_face_has_its_licence_beside_it() -> None:
    families = {re.split(r"-(latin|symbols)", path.name)[0] for path in (STATIC / "fonts").glob("*.woff2")}

    assert families == {"sofia-sans-semi-condensed", "overpass-mono", "dejavu-sans"}
    for family in families:
        assert (STATIC / "fonts" / f"LICENSE-{family}.txt").is_file()


def test_no_two_files_share_a_family_and_weight() -> None:
    """The packet's renderer mixes up the glyphs of two files of one family and weight."""
    for name in ("fonts.css", "fonts-print.css"):
        text = (STATIC / "css" / name).read_text(encoding="utf-8")
        faces = re.findall(r'font-family: "([^"]+)";\s*font-style: normal;\s*font-weight: (\d+);', text)
        assert len(faces) == len(set(faces)) == 12


@pytest.mark.parametrize(
    "family",
    [
        '"Sofia Sans Semi Condensed", "Sofia Sans Semi Condensed Ext", "DejaVu Sans"',
        '"Overpass Mono", "Overpass Mono Ext", "DejaVu Sans"',
    ],
)
def test_letters_of_many_alphabets_print_as_themselves(family: str) -> None:
    import weasyprint  # here, because it needs system libraries that other tests do without

    wanted = "Łódź Čapek 5.5 → 4.2 % ≤ 3 Ω Δ √ ☐ ☑ Жук 12"
    page = f"<html lang=en><title>t</title><style>body {{ font-family: {family} }}</style><link rel=stylesheet href=css/fonts-print.css><p>{wanted}</p>"

    pdf = weasyprint.HTML(string=page, base_url=f"{STATIC}/").write_pdf()

    text = pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_range()
    assert " ".join(text.split()) == wanted
