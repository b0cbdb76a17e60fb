"""The schedules of the reference page, each with the table of what was checked under it."""

import re
from dataclasses import dataclass
from pathlib import Path

from builds.engineering.functions.compiled import CompiledSchedule, compile_schedule
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.names import folded
from builds.engineering.functions.running import Run
from builds.engineering.functions.schedule import FunctionSchedule
from builds.engineering.functions.settings import setting_of
from builds.engineering.functions.words import shown_words

PAGE = Path(__file__).parents[3] / "docs" / "reference" / "function-language.md"
BLOCK = re.compile(r"```schedule ([^\n]+)\n(.*?)```\n\n((?:\|[^\n]*\n)+)", re.DOTALL)
UNITS_MS = {"ms": 1, "s": 1000, "min": 60_000}


@dataclass(frozen=True)
class Example:
    """A schedule of the page by its name, and the rows of its table: what is done, and what is then shown."""

    name: str
    text: str
    rows: tuple[tuple[str, str], ...]

    @property
    def schedule(self) -> FunctionSchedule:
        return parse_schedule(self.text)


def examples() -> list[Example]:
    page = PAGE.read_text(encoding="utf-8")
    return [Example(name, text, tuple(rows_of(table))) for name, text, table in BLOCK.findall(page)]


def rows_of(table: str) -> list[tuple[str, str]]:
    cells = [[cell.strip() for cell in line.strip("|\n").split("|")] for line in table.strip().split("\n")]
    return [(do, then) for do, then in cells[2:]]


def shown_after(compiled: CompiledSchedule, do: str) -> dict[str, str]:
    """What every channel shows after the acts of a row, done one after the other from rest."""
    run = Run.wake(compiled)
    for act in do.split(", "):
        if act == "at rest":
            continue
        name, _, value = act.rpartition(" ")
        if act.startswith("wait "):
            number, unit = act.split()[1:]
            run.advance(run.now_ms + int(number) * UNITS_MS[unit])
            continue
        if value == "%":
            name, _, step = name.rpartition(" ")
            value = f"{step} %"
        now = dict(run.setting.away)
        run.set(setting_of(compiled.schedule, now | {name_in(compiled, name): value}))
    return {outcome.channel: shown_words(compiled, outcome.shows) for outcome in run.outcomes()}


def name_in(compiled: CompiledSchedule, name: str) -> str:
    return compiled.names.inputs[folded(name)].key


def expected(then: str) -> list[tuple[str, str]]:
    """Channels with what they show; ``, 450 ms late`` belongs to what stands before it."""
    parts: list[str] = []
    for part in then.split(", "):
        if part.endswith(" late"):
            parts[-1] += f", {part}"
        else:
            parts.append(part)
    return [(channel, shown) for channel, _, shown in (part.partition(" ") for part in parts)]


COMPILED = {example.name: compile_schedule(example.schedule) for example in examples()}
