"""The pages under ``docs`` that are made from the code, and how each is made; what `gendocs` writes and checks."""

from collections.abc import Callable
from pathlib import Path

from builds.engineering.document import schema_text
from builds.engineering.document.reference_page import page_with_tables
from builds.engineering.findings_page import findings_page
from builds.management.reference_pages import buyer_rules_page, permissions_page, stages_page

__all__ = ["DOCS", "PAGES", "outdated_pages", "write_pages"]

DOCS = Path(__file__).resolve().parents[2] / "docs"

# Each maker takes the page as it stands ("" if there is none) and returns it as it should be.
PAGES: dict[str, Callable[[str], str]] = {
    "reference/build-document.schema.json": lambda _: schema_text(),
    "reference/build-document.md": page_with_tables,
    "reference/findings.md": findings_page,
    "reference/stages.md": stages_page,
    "reference/permissions.md": permissions_page,
    "reference/buyer-rules.md": buyer_rules_page,
}


def outdated_pages(docs: Path = DOCS) -> dict[str, str]:
    """Return the pages that are not what the code says, each as it should be."""
    pages = {}
    for name, made in PAGES.items():
        present = (docs / name).read_text(encoding="utf-8") if (docs / name).exists() else ""
        wanted = made(present)
        if wanted != present:
            pages[name] = wanted
    return pages


def write_pages(docs: Path = DOCS) -> list[str]:
    """Write the pages that are out of date and return their names."""
    pages = outdated_pages(docs)
    for name, text in pages.items():
        (docs / name).write_text(text, encoding="utf-8")
    return sorted(pages)
