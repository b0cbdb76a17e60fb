"""
The function schedule at full size: compiled, evaluated, proved and planned.

It has no peer that does the same in one run, so each figure is held to the limit that people feel: a toggle answers at once,
a kept schedule is proved within a second, a plan of its test is there within five.
"""

import statistics
import time
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path

from django.utils import timezone

from builds.engineering.document import read_document
from builds.engineering.functions.checks import check_schedule
from builds.engineering.functions.compiled import compile_schedule
from builds.engineering.functions.evaluate import evaluate
from builds.engineering.functions.plan import plan_test
from builds.engineering.functions.playing import Act
from builds.engineering.functions.proof import Verdict
from builds.engineering.functions.reports import report_of
from builds.engineering.functions.settings import setting_of
from builds.management.benchmarks import Figure
from builds.management.benchmarks.large_schedule import large_schedule
from builds.management.benchmarks.rolled_back import rolled_back, signed_in
from builds.selectors.function_play import play_view
from builds.services.build_documents import import_build

__all__ = ["measure"]

_DOCUMENT = Path(__file__).resolve().parents[3] / "demo" / "2614-crew-cab-truck.json"
_HTMX = {"HX-Request": "true"}
_ANSWERS = 8


def measure(say: Callable[[str], None]) -> list[Figure]:
    """Return times of this thread, the best of a few runs, in milliseconds; the plan with its proven bound is told."""
    schedule, bare = large_schedule(1), large_schedule(1, claims=0)
    compiled = compile_schedule(schedule)
    settings = [
        setting_of(schedule, {"mode": mode, f"in {number}": "on", f"in {number + 5}": "lost"})
        for mode in ("respond", "scene")
        for number in range(1, 30)
    ]
    report = check_schedule(schedule)
    verdicts = Counter(result.verdict for result in report.claims)
    say(
        f"{len(schedule.inputs)} inputs, {len(schedule.channels)} outputs, {len(schedule.rules)} rules; claims: "
        + ", ".join(f"{verdicts[verdict]} {verdict.value}" for verdict in Verdict)
    )
    plan = plan_test(compile_schedule(bare))
    say(
        f"the plan: {plan.settings} settings show {len(plan.goals)} goals, proven bound {plan.at_least}; "
        f"{plan.moves} changes of controls, {plan.moves_unordered} in the order found"
    )
    return [
        Figure(name="compile", value=_best_ms(lambda: compile_schedule(schedule)), unit="ms"),
        Figure(
            name="one evaluation",
            value=_best_ms(lambda: [evaluate(compiled, one) for one in settings], 5) / len(settings),
            unit="ms",
            most=1.0,
        ),
        Figure(name="all claims and checks", value=_best_ms(lambda: check_schedule(schedule)), unit="ms", most=1000.0),
        Figure(name="test plan", value=_best_ms(lambda: plan_test(compile_schedule(bare)), 2), unit="ms", most=5000.0),
        _toggle(),
        _answered(),
    ]


def _toggle() -> Figure:
    """What a toggle costs on the demo's largest build: the play and its picture, without the way there and back."""
    design = read_document(_DOCUMENT.read_bytes())
    compiled = report_of(design.function_schedule).compiled
    assert compiled is not None
    acts = (Act(setting_of(compiled.schedule, {"mode": "respond", "gear": "other"})),)
    return Figure(
        name="a toggle's picture",
        value=_best_ms(lambda: play_view(design, compiled, acts, {}), 5),
        unit="ms",
        most=50.0,
    )


def _answered() -> Figure:
    """The same asked of the server: sign-in, middlewares, database, picture and page, inside one process."""
    with rolled_back():
        client, person = signed_in()
        import_build(text=_DOCUMENT.read_bytes(), by=person, at=timezone.now(), number="bench")
        answers = [
            _time_ms(partial(client.get, "/builds/bench/functions/play/", {"in:mode": mode}, headers=_HTMX))
            for mode in ("respond", "off") * _ANSWERS
        ]
    return Figure(name="a toggle, answered", value=statistics.median(answers), unit="ms", most=100.0)


def _time_ms(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return (time.perf_counter() - started) * 1000


def _best_ms(work: Callable[[], object], runs: int = 3) -> float:
    times = []
    for _ in range(runs):
        started = time.thread_time()
        work()
        times.append((time.thread_time() - started) * 1000)
    return min(times)
