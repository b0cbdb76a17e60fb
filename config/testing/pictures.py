"""
`pictures`: the screenshots in ``docs/pictures``, taken again from a demo shop that is started for them.

The shop lives in a folder of its own and is gone afterwards; the pages are those a person sees, at a phone's width and
at a desk's.
"""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from config.data_folder import CHECKOUT
from config.embedded.plain_errors import PlainError

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

__all__ = ["run"]

FOLDER = CHECKOUT / "docs" / "pictures"
CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
_OPEN = re.compile(r"stays open at (http://\S+?)/?\s")
_SIGN_IN = re.compile(r"^  \S.*?\s{2,}(\S+)\s{2,}(\S+)$")


@dataclass(frozen=True, slots=True)
class Shop:
    """The demo shop that was started: where it is, and the passwords it printed by name."""

    address: str
    passwords: dict[str, str]


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture: its name, who looks, where, at which width, and how much of the page."""

    name: str
    person: str
    path: str
    width: int
    height: int = 1400
    theme: str = "light"


PICTURES = (
    Picture("job-list-1440", "manager", "/builds/", 1440, 700),
    Picture("build-sheet-1440", "designer", "/builds/2614/", 1440, 1500),
    Picture("build-sheet-dark-1440", "designer", "/builds/2614/", 1440, 1500, "dark"),
    Picture("build-sheet-390", "designer", "/builds/2614/", 390, 1400),
    Picture("circuits-1440", "designer", "/builds/2614/#circuits", 1440, 1400),
    Picture("circuits-table-1440", "designer", "/builds/2614/table/circuit/", 1440, 900),
    Picture("power-tree-1440", "designer", "/builds/2614/tree/?at=run:R8&do=feed&source=P1", 1440, 1000),
    Picture(
        "what-if-1440",
        "designer",
        "/builds/2614/what-if/?if=circuit:203+gauge+18&if=node:ALT+alternator+320",
        1440,
        1100,
    ),
    Picture("open-a-build-1440", "writer", "/builds/open/", 1440, 1400),
    Picture("checklist-390", "technician", "/builds/2612/checklist/", 390, 1200),
    Picture("bay-board-1440", "manager", "/bays/", 1440, 1100),
    Picture("yard-1440", "technician", "/yard/", 1440, 900),
    Picture("yard-390", "technician", "/yard/", 390, 1200),
    Picture("stores-1440", "parts", "/stores/", 1440, 1000),
    Picture("packet-page-1440", "writer", "/builds/2614/packet/", 1440, 1000),
)


def run(argv: list[str]) -> int:
    """Take all pictures, or those whose names are given."""
    wanted = [picture for picture in PICTURES if not argv or picture.name in argv]
    if not wanted:
        raise PlainError("There is no such picture. Known are " + ", ".join(picture.name for picture in PICTURES) + ".")
    from playwright.sync_api import sync_playwright

    FOLDER.mkdir(parents=True, exist_ok=True)
    with _demo_shop() as shop, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for picture in wanted:
            _take(browser, shop, picture)
            print(f"docs/pictures/{picture.name}.png", flush=True)
        _take_step(browser, shop)
        _take_customer(browser, shop)
        browser.close()
    return 0


@contextmanager
def _demo_shop() -> Iterator[Shop]:
    """Start a demo shop of its own and yield it once the walk is done."""
    with tempfile.TemporaryDirectory(prefix="baywright-pictures-") as data, socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
        probe.close()
        demo = subprocess.Popen(
            [sys.executable, "manage.py", "demo", "--port", str(port)],
            cwd=CHECKOUT,
            env={**os.environ, "BAYWRIGHT_DATA": data},
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            yield _shop_of(demo)
        finally:
            demo.send_signal(signal.SIGTERM)
            demo.wait(60)


def _shop_of(demo: subprocess.Popen[str]) -> Shop:
    assert demo.stdout is not None
    told = []
    passwords: dict[str, str] = {}
    for line in demo.stdout:
        told.append(line)
        if sign_in := _SIGN_IN.match(line.rstrip()):
            passwords[sign_in.group(1)] = sign_in.group(2)
        if found := _OPEN.search(line):
            return Shop(address=found.group(1), passwords=passwords)
    raise PlainError("The demo shop for the pictures did not start. " + "".join(told[-3:]).strip())


def _signed_in(browser: Browser, shop: Shop, person: str, *, width: int, height: int, theme: str = "light") -> Page:
    context = browser.new_context(
        viewport={"width": width, "height": height}, reduced_motion="reduce",
        color_scheme="dark" if theme == "dark" else "light",
    )  # fmt: skip
    page = context.new_page()
    page.goto(f"{shop.address}/sign-in/")
    page.fill("input[name=username]", person)
    page.fill("input[name=password]", shop.passwords[person])
    page.click("button[type=submit]")
    page.wait_for_load_state()
    return page


def _take(browser: Browser, shop: Shop, picture: Picture) -> None:
    page = _signed_in(browser, shop, picture.person, width=picture.width, height=picture.height, theme=picture.theme)
    page.goto(shop.address + picture.path)
    _keep(page, picture.name)


def _take_step(browser: Browser, shop: Shop) -> None:
    """The first open step that asks for a reading, on a phone, with one typed in."""
    page = _signed_in(browser, shop, "technician", width=390, height=844)
    page.goto(f"{shop.address}/builds/2612/checklist/")
    steps = [link.get_attribute("href") for link in page.query_selector_all("a[href*='/checklist/']")]
    for step in dict.fromkeys(step for step in steps if step and re.search(r"/checklist/\d+/$", step)):
        page.goto(shop.address + step)
        if page.query_selector("input[name=reading]"):
            break
    _keep(page, "checklist-step-390")


def _take_customer(browser: Browser, shop: Shop) -> None:
    """The customer's own page, by a link made for the picture."""
    page = _signed_in(browser, shop, "writer", width=1440, height=1000)
    page.goto(f"{shop.address}/builds/2614/packet/")
    page.fill("input[name=made_for]", "P. Lund")
    page.click("form[action$='/packet/links/'] button[type=submit]")
    page.wait_for_load_state()
    link = re.search(r"/l/[A-Za-z0-9_-]+/", page.content())
    if link is None:
        raise PlainError("The packet page showed no link for the customer.")
    customer = browser.new_context(viewport={"width": 390, "height": 1400}, reduced_motion="reduce").new_page()
    customer.goto(shop.address + link.group(0))
    _keep(customer, "customer-390")


def _keep(page: Page, name: str) -> None:
    page.wait_for_timeout(600)
    page.screenshot(path=str(Path(FOLDER) / f"{name}.png"))
    page.context.close()
