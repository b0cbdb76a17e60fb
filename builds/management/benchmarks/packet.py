"""
The packet of the demo's largest build against a plain call of the renderer with the same options.

Both get the same HTML, fonts, attachments, variant and tags, and each render has a process of its own; five of each,
turn by turn, medians compared. Ours counts everything from the frozen input to the bytes, templates included; the plain
call begins with the HTML at hand.
"""

import json
import os
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from builds.documents.packet import PDF_OPTIONS, FrozenPacket, packet_attachments, packet_html, render_packet_pdf
from builds.documents.packet_input import PacketInput, packet_input_text
from builds.documents.plain_values import value_of
from builds.engineering.assess import assess
from builds.engineering.checklist import StepPlan, derive_steps
from builds.engineering.design import Design
from builds.engineering.document import canonical_text, content_sha256, read_document
from builds.management.benchmarks import Figure
from builds.services.packet_rendering import find_static

__all__ = ["measure"]

ROUNDS = 5
MOST_RATIO = 0.8
_CHECKOUT = Path(__file__).resolve().parents[3]
_DOCUMENT = _CHECKOUT / "demo" / "2614-crew-cab-truck.json"
_AT = datetime(2026, 12, 16, 15, 30, tzinfo=UTC)


def measure(say: Callable[[str], None]) -> list[Figure]:
    """Return seconds and megabytes of both, and the ratio of the medians."""
    taken: dict[str, list[dict[str, float]]] = {"ours": [], "plain": []}
    for number in range(1, ROUNDS + 1):
        for kind, results in taken.items():
            results.append(_in_own_process(kind))
            say(f"round {number}, {kind}: {results[-1]['seconds']:.2f} s")
    ours, plain = (statistics.median(result["seconds"] for result in taken[kind]) for kind in ("ours", "plain"))
    return [
        Figure(name="packet over plain call", value=ours / plain, unit="", most=MOST_RATIO),
        Figure(name="packet", value=ours, unit="s"),
        Figure(name="plain call", value=plain, unit="s"),
        Figure(
            name="peak memory of a packet",
            value=max(result["peak_mb"] for result in taken["ours"]),
            unit="MB",
            most=400.0,
        ),
    ]


def _in_own_process(kind: str) -> dict[str, float]:
    program = f"import django; django.setup(); from {__name__} import report; report({kind!r})"
    environment = {"DJANGO_SETTINGS_MODULE": "config.settings"} | os.environ
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False, env=environment, cwd=_CHECKOUT
    )
    if done.returncode:
        raise RuntimeError(done.stderr.strip() or f"the {kind} render ended with {done.returncode}")
    result: dict[str, float] = json.loads(done.stdout.strip().splitlines()[-1])
    return result


def _bare_packet(design: Design, text: str) -> FrozenPacket:
    """A packet with the checklist the design asks for and nothing done on it yet."""
    assessment = assess(design)
    revision: dict[str, Any] = {
        "letter": "A", "document_sha256": content_sha256(text), "summary": "As ordered", "released_at": _AT,
        "released_by": "bench", "price_total": assessment.price.total, "authorisations": [],
    }  # fmt: skip
    values: dict[str, Any] = {
        "shop": {"name": "Tern Point Vehicle Works", "address": "", "telephone": "", "time_zone": "UTC", "currency": "USD", "invented": True},
        "issue": {"number": 1, "issued_at": _AT, "issued_by": "bench", "vehicle_address": "https://shop.example/v/" + "A" * 43 + "/",
                  "corrects": None, "promised_on": None, "contact": ""},
        "revisions": [revision], "steps": [_step(plan) for plan in derive_steps(design, assessment)], "assessment": assessment,
    }  # fmt: skip
    empty = ("check_ins", "serials", "gear", "removed", "splices", "penetrations", "overrides", "photos", "changed")
    input_text = packet_input_text(values | {name: [] for name in empty})
    frozen = value_of(PacketInput, json.loads(input_text)["input"])
    return FrozenPacket(input=frozen, input_sha256=content_sha256(input_text), design=design, design_text=text)


def _step(plan: StepPlan) -> dict[str, Any]:
    reading = plan.reading
    figures = (
        (None,) * 4 if reading is None else (reading.minimum, reading.maximum, reading.calculated, reading.most_lost_v)
    )
    low, high, calculated, lost = (None if figure is None else f"{figure:.4f}" for figure in figures)
    return {
        "key": plan.key, "phase": plan.phase, "place": plan.place, "title": plan.title, "subject": plan.subject,
        "is_hold_point": plan.hold_point, "covers": list(plan.covers), "result": "", "reading_name": "",
        "reading_unit": reading.unit if reading else "", "reading_min": low, "reading_max": high, "reading_lost_max_v": lost,
        "reading_calculated": calculated, "reading_decimals": reading.decimals if reading else 2, "ticks": [], "signatures": [],
    }  # fmt: skip


def _render_ours(packet: FrozenPacket) -> float:
    begun = time.perf_counter()
    render_packet_pdf(packet, find_static=find_static, read_media={})
    return time.perf_counter() - begun


def _render_plain(packet: FrozenPacket) -> float:
    from weasyprint import HTML  # noqa: PLC0415  without pango this import fails

    from builds.documents.fetcher import BASE_ADDRESS, PacketFetcher  # noqa: PLC0415

    fetcher = PacketFetcher(find_static=find_static, read_media={})
    html, attachments = packet_html(packet), packet_attachments(packet)
    begun = time.perf_counter()
    HTML(string=html, base_url=BASE_ADDRESS, url_fetcher=fetcher).write_pdf(attachments=attachments, **PDF_OPTIONS)
    return time.perf_counter() - begun


def report(kind: str) -> None:
    """Render once and write seconds and peak memory of this process to its output."""
    import weasyprint  # noqa: F401, PLC0415  loaded before the clock starts

    text = canonical_text(read_document(_DOCUMENT.read_bytes()))
    packet = _bare_packet(read_document(text), text)
    seconds = _render_ours(packet) if kind == "ours" else _render_plain(packet)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(json.dumps({"seconds": seconds, "peak_mb": peak_mb}) + "\n")
