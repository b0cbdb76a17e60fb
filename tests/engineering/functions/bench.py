"""
Times of the function schedule at full size; run with ``python -m tests.engineering.functions.bench``.

Wall-clock figures of one machine, best of a few runs. The tests count work instead.
"""

import sys
import time
from collections.abc import Callable

from builds.engineering.functions.checks import check_schedule
from builds.engineering.functions.compiled import compile_schedule
from builds.engineering.functions.evaluate import evaluate
from builds.engineering.functions.plan import plan_test
from builds.engineering.functions.settings import setting_of
from tests.engineering.functions.large_schedule import large_schedule


def best_ms(work: Callable[[], object], runs: int = 3) -> float:
    times = []
    for _ in range(runs):
        started = time.perf_counter()
        work()
        times.append((time.perf_counter() - started) * 1000)
    return min(times)


def main() -> None:
    schedule = large_schedule(1)
    compiled = compile_schedule(schedule)
    settings = [
        setting_of(schedule, {"mode": mode, f"in {number}": "on", f"in {number + 5}": "lost"})
        for mode in ("respond", "scene")
        for number in range(1, 30)
    ]
    bare = large_schedule(1, claims=0)
    plan = plan_test(compile_schedule(bare))
    lines = (
        ("compile", best_ms(lambda: compile_schedule(schedule)), 100),
        ("one evaluation", best_ms(lambda: [evaluate(compiled, one) for one in settings], 5) / len(settings), 1),
        ("all claims and checks", best_ms(lambda: check_schedule(schedule)), 1000),
        ("test plan", best_ms(lambda: plan_test(compile_schedule(bare)), 2), 5000),
    )
    for name, took_ms, most_ms in lines:
        sys.stdout.write(f"{name:24} {took_ms:9.2f} ms of {most_ms} ms\n")
    sys.stdout.write(
        f"{'the plan':24} {plan.settings} settings, proven bound {plan.at_least}, {len(plan.goals)} goals, "
        f"{plan.moves} moves ({plan.moves_unordered} unordered)\n"
    )


if __name__ == "__main__":
    main()
