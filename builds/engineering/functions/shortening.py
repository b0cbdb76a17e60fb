"""
A short walk that shows everything: a sequence of settings, every step from where the last one settled.

The walk is built by putting in, again and again, the setting that shows most of what is missing at the place where it does.
Then parts of it are taken out and what is missing put in anew; a walk that is no longer than the last is kept, of equally
long ones the one that moves fewer controls. All choices are drawn by a fixed rule: two runs give the same.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from random import Random

import numpy as np
from numpy.typing import NDArray

from builds.engineering.functions.ordering import total_moves
from builds.engineering.functions.step_table import StepTable

__all__ = ["NoWalk", "Path", "short_path"]

Path = tuple[int, ...]
_SEED = 3
_WORD = 64
_IN_VAIN = 40  # attempts without a better walk after which the search ends
_MOST_SCANS = 6000  # places tried with every setting: about a second


class NoWalk(Exception):
    """From where the walk has come there is no way to something that is still to be shown."""


def short_path(table: StepTable, start: Path | None = None) -> Path:
    """
    Return a short sequence of settings of a table that shows every demand that one of its steps shows.

    Parameters
    ----------
    table : StepTable
        The steps there are.
    start : tuple of int, optional
        A sequence to begin from, besides one built anew; it may show less.

    Returns
    -------
    tuple of int
        Places in ``table.settings``, first to last; rest is where they begin from.

    Raises
    ------
    NoWalk
        If a walk has come to where it cannot go on; rules that let buttons go can bring that about.
    """
    return _Search(table).run(start)


@dataclass(slots=True)
class _Search:
    table: StepTable
    random: Random = field(default_factory=lambda: Random(_SEED))  # noqa: S311 - choosing what to try, not secrets
    scans: int = 0
    shown: list[list[int]] = field(init=False)
    words: NDArray[np.uint64] = field(init=False)  # standing, setting, word of 64 demands
    every: int = field(init=False)

    def __post_init__(self) -> None:
        table = self.table
        self.shown = [
            [
                once | course | settled if can else 0
                for once, course, settled, can in zip(*rows, table.can[standing], strict=True)
            ]
            for standing, rows in enumerate(zip(table.at_once, table.on_course, table.settled, strict=True))
        ]
        self.every = 0
        for row in self.shown:
            for mask in row:
                self.every |= mask
        self.words = np.array([[self._in_words(mask) for mask in row] for row in self.shown], dtype=np.uint64)

    def run(self, start: Path | None) -> Path:
        best = self._without_spare(self._filled(()))
        if start is not None and self._can(start):
            best = min(best, self._without_spare(self._filled(start)), key=self._length)
        in_vain = 0
        while in_vain < _IN_VAIN and self.scans < _MOST_SCANS and len(best) > 1:
            tried = self._without_spare(self._filled(self._thinned(best)))
            in_vain = 0 if len(tried) < len(best) else in_vain + 1
            if self._length(tried) <= self._length(best):
                best = tried
        return self._calmed(best)

    def _length(self, path: Path) -> tuple[int, int]:
        settings = self.table.settings
        return len(path), total_moves(settings[0], [settings[place] for place in path])

    def _standings(self, path: Path) -> Iterator[int]:
        """How things stand before each step, and after the last."""
        here = self.table.start
        yield here
        for place in path:
            here = int(self.table.ends[here, place])
            yield here

    def _steps(self, path: Path) -> list[int]:
        """What each step shows."""
        return [self.shown[standing][place] for standing, place in zip(self._standings(path), path, strict=False)]

    def _can(self, path: Path) -> bool:
        pairs = zip(self._standings(path), path, strict=False)
        return all(self.table.can[standing, place] for standing, place in pairs)

    def _is_whole(self, path: Path) -> bool:
        return self._can(path) and _joined(self._steps(path)) == self.every

    def _without_spare(self, path: Path) -> Path:
        for place in reversed(range(len(path))):
            shorter = path[:place] + path[place + 1 :]
            if self._is_whole(shorter):
                path = shorter
        return path

    def _thinned(self, path: Path) -> Path:
        """The walk with a stretch or some single settings taken out; the whole taken out if it cannot be walked then."""
        count = self.random.randint(1, min(4, len(path)))
        if self.random.random() < 0.5:
            first = self.random.randrange(len(path) - count + 1)
            gone = set(range(first, first + count))
        else:
            gone = set(self.random.sample(range(len(path)), count))
        left = tuple(place for number, place in enumerate(path) if number not in gone)
        return left if self._can(left) else ()

    def _filled(self, path: Path) -> Path:
        """The walk with settings put in until it shows everything."""
        while (missing := self.every & ~_joined(self._steps(path))) != 0:
            path = self._put_in(path) or self._led_to(path, missing)
        return path

    def _put_in(self, path: Path) -> Path | None:
        """The walk with one setting more, that shows most of what is missing; None if none shows anything more."""
        steps = self._steps(path)
        standings = list(self._standings(path))
        best, found = 0, None
        for number in self._places(len(path)):
            others = _joined(steps[:number] + steps[number + 1 :])
            gains = self._gains(standings[number], path[number] if number < len(path) else None, self.every & ~others)
            if number < len(path):
                gains = gains - (steps[number] & ~others).bit_count()
            place = int(gains.argmax())
            if gains[place] > best:
                best, found = int(gains[place]), (number, place)
        if found is None:
            return None
        number, place = found
        return (*path[:number], place, *path[number:])

    def _places(self, count: int) -> list[int]:
        """Where a setting may be put in, in a drawn order."""
        places = list(range(count + 1))
        self.random.shuffle(places)
        return places

    def _gains(self, standing: int, following: int | None, wanted: int) -> NDArray[np.int64]:
        """For each setting put in after a standing and before another setting, how much of what is wanted is shown then."""
        self.scans += 1
        table = self.table
        words, can = self.words[standing], table.can[standing]
        if following is not None:
            ends = table.ends[standing]
            words = words | self.words[ends, following]
            can = can & table.can[ends, following]
            can &= table.ends[ends, following] == table.ends[standing, following]
        gains = np.bitwise_count(words & self._in_words(wanted)).sum(axis=1).astype(np.int64)
        return np.where(can, gains, -1)

    def _led_to(self, path: Path, missing: int) -> Path:
        """The walk led on to the nearest standing from which a step shows something that is missing, and that step."""
        ways: dict[int, Path] = {list(self._standings(path))[-1]: ()}
        waiting = list(ways)
        for here in waiting:
            place = next((place for place, mask in enumerate(self.shown[here]) if mask & missing), None)
            if place is not None:
                return (*path, *ways[here], place)
            for onward in np.flatnonzero(self.table.can[here]):
                there = int(self.table.ends[here, onward])
                if there not in ways:
                    ways[there] = (*ways[here], int(onward))
                    waiting.append(there)
        raise NoWalk

    def _calmed(self, path: Path) -> Path:
        """A walk of the same length that moves fewer controls: settings exchanged for others, or put elsewhere."""
        moved = self._length(path)
        better = True
        while better:
            better = False
            for tried in self._like(path):
                if self._length(tried) < moved and self._is_whole(tried):
                    path, moved, better = tried, self._length(tried), True
                    break
        return path

    def _like(self, path: Path) -> Iterator[Path]:
        for number, place in enumerate(path):
            rest = path[:number] + path[number + 1 :]
            yield from ((*rest[:to], place, *rest[to:]) for to in range(len(path)) if to != number)
            alike = np.flatnonzero((self.table.ends == self.table.ends[:, [place]]).all(axis=0))
            yield from ((*path[:number], int(other), *path[number + 1 :]) for other in alike)

    def _in_words(self, mask: int) -> NDArray[np.uint64]:
        count = max(1, -(-self.every.bit_length() // _WORD))
        return np.frombuffer(mask.to_bytes(count * _WORD // 8, "little"), dtype="<u8")


def _joined(masks: Sequence[int]) -> int:
    joined = 0
    for mask in masks:
        joined |= mask
    return joined
