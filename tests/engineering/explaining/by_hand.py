"""A printed formula worked again from nothing but its print: numbers, + − × / ^ √( ) and parentheses."""

import math
import re
from dataclasses import dataclass, field

__all__ = ["last_digit", "number", "worked"]

_TOKEN = re.compile(r"\s*(\d[\d,]*\.?\d*|[-−+×/^√()])")


def number(text: str) -> float:
    """Read a printed figure."""
    return float(text.replace(",", "").replace("−", "-"))


def last_digit(text: str) -> float:
    """Half of what the last printed digit stands for: how far the figure behind it may be off."""
    _, _, decimals = text.replace(",", "").partition(".")
    return 0.5 * 10.0 ** -len(decimals)


@dataclass
class _Reader:
    tokens: list[str]
    shift: dict[int, float] = field(default_factory=dict)
    at: int = 0

    def peek(self) -> str:
        return self.tokens[self.at] if self.at < len(self.tokens) else ""

    def take(self) -> str:
        self.at += 1
        return self.tokens[self.at - 1]

    def sum(self) -> float:
        value = self.product()
        while self.peek() in ("+", "−", "-"):
            value = value + self.product() if self.take() == "+" else value - self.product()
        return value

    def product(self) -> float:
        value = self.power()
        while self.peek() in ("×", "/"):
            value = value * self.power() if self.take() == "×" else value / self.power()
        return value

    def power(self) -> float:
        base = self.atom()
        if self.peek() == "^":
            self.take()
            return base ** self.atom()
        return base

    def atom(self) -> float:
        token = self.take()
        if token in ("−", "-"):
            return -self.atom()
        if token == "√":
            return math.sqrt(self.atom())
        if token == "(":
            value = self.sum()
            assert self.take() == ")"
            return value
        return number(token) + self.shift.get(self.at - 1, 0.0)


def _tokens(text: str) -> list[str]:
    found, at = [], 0
    while at < len(text.rstrip()):
        match = _TOKEN.match(text, at)
        assert match, f"not a formula: {text!r} at {at}"
        found.append(match.group(1))
        at = match.end()
    return found


def worked(text: str) -> tuple[float, float]:
    """Return what a printed formula gives, and how far rounding of the printed numbers may put that off."""
    tokens = _tokens(text)
    reader = _Reader(tokens)
    value = reader.sum()
    assert reader.at == len(tokens), f"not a formula: {text!r}"
    off = 0.0
    for place, token in enumerate(tokens):
        if token[0].isdigit():
            moved = _Reader(tokens, {place: last_digit(token)}).sum()
            off += abs(moved - value)
    return value, off
