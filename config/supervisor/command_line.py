"""The options of `demo` and `serve`, and what each does in order."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from config import system_packages
from config.data_folder import DataFolder, data_folder
from config.supervisor.children import Address
from config.supervisor.preflight import require_certificate
from config.supervisor.watch import Shop, say

DEFAULT_PORT = 8000


def run(name: str, words: list[str]) -> int:
    """Run `demo` or `serve` and return the exit status."""
    options = parse(name, words)
    address = address_of(options)
    system_packages.require(system_packages.FOR_THE_PACKET, why="the libraries that lay out the packet's pages")
    environment = dict(os.environ)
    if name == "demo":
        environment.setdefault("SWEEP_SECONDS", "10")
    with Shop(DataFolder(data_folder()), environment, address) as shop:
        shop.start_servers()
        if name == "demo":
            return run_demo(shop, once=options.once)
        shop.start_pages()
        say(f"\nBaywright is at {address.url}   (stop with Ctrl-C)")
        if shop.servers.is_new:
            say("It has no shop yet. Open one from another terminal, with its first manager:")
            say("  python3 manage.py openshop --name NAME --time-zone America/New_York --manager SIGN_IN_NAME")
        shop.watch()
    return 0


def run_demo(shop: Shop, *, once: bool) -> int:
    """Fill the shop, show the way in, walk one build to its packet, and keep serving."""
    from config.supervisor.demo import load_demo_shop, walk_one_build

    sign_ins = load_demo_shop(shop)
    shop.start_pages()
    say(f"\nBaywright is at {shop.address.url}")
    say(sign_ins)
    walk_one_build(shop)
    if not once:
        say(f"\nThe shop stays open at {shop.address.url}   (stop with Ctrl-C)")
        shop.watch()
    return 0


def parse(name: str, words: list[str]) -> argparse.Namespace:
    """Read the options of `demo` or `serve`."""
    parser = argparse.ArgumentParser(prog=f"manage.py {name}")
    parser.add_argument(
        "--port", type=port_number, default=DEFAULT_PORT, help="the pages' port; the next one too is used"
    )
    parser.add_argument("--host", default="127.0.0.1", help="0.0.0.0 lets other machines in")
    parser.add_argument("--tls", nargs=2, type=Path, metavar=("CERT", "KEY"), help="serve HTTPS")
    if name == "demo":
        parser.add_argument("--once", action="store_true", help="stop after the build's packet")
    return parser.parse_args(words)


def port_number(word: str) -> int:
    """Return a port that leaves room for the next one."""
    if not word.isdecimal() or not 1 <= int(word) <= 65534:
        raise argparse.ArgumentTypeError(f"{word} is no port; write a number from 1 to 65534")
    return int(word)


def address_of(options: argparse.Namespace) -> Address:
    """Return where to serve, the certificate looked at first."""
    if not options.tls:
        return Address(host=options.host, port=options.port)
    certificate, key = (path.expanduser().resolve() for path in options.tls)
    require_certificate(certificate, key)
    return Address(host=options.host, port=options.port, certificate=certificate, key=key)
