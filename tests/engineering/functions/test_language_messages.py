"""What a person who mistypes a schedule is told: the place, and what was expected there, in plain words."""

import pytest

from builds.engineering.functions.faults import LanguageError
from builds.engineering.functions.language import parse_schedule

PARTS = """input mode: selector off, respond, block
input brake: signal meaning brake; wire C3-11
channel red: lamp; facing rear; colour red
channel white: lamp
set both: red, white
pattern beat: 300 ms on, 300 ms off
"""
RULE = "rule a (priority 1): red {} when {}; if lost, does not apply"

# What was typed with ▸ before the place the message points at, and how the message goes on after it.
MISTAKES = [
    (RULE.format("steady at ▸0 %", "brake"), "level is 0; expected a whole number from 1 to 100."),
    (RULE.format("steady at ▸150 %", "brake"), "level is 150; expected a whole number from 1 to 100."),
    (RULE.format("steady at 50 ▸", "brake").replace("▸ when", "▸when"), "“when” does not fit here; expected “%”."),
    (RULE.format("flash ▸", "brake").replace("▸ when", "▸when"), "“when” does not fit here; expected the name of a pattern."),
    (RULE.format("flash beat sync ▸", "brake").replace("▸ when", "▸when"), "expected the name of a clock."),
    ("rule a▸: red steady when brake; if lost, applies", "“:” does not fit here; expected “(priority 40)” or another number."),
    (RULE.format("steady", "brake for ▸3 s"), "“for” needs “at least” or “at most” before its time"),
    (RULE.format("steady", "brake for at least 3▸"), "A time needs its unit; expected “ms”, “s” or “min”."),
    (RULE.format("steady", "brake for at least ▸2000 min"), "time is 2000 min; expected from 1 ms to 24 h."),
    (RULE.format("steady", "brake for at least ▸0.5 ms"), "time is 0.5 ms; expected whole milliseconds."),
    (RULE.format("steady", "mode is respond or ▸block"), "expected “mode is block”, or “mode is one of …, block”."),
    (RULE.format("steady", "mode is one of respond▸"), "expected “,” and another value; one alone follows “is”"),
    ("rule a (priority 1): red steady when brake; if lost, ▸apply", "expected “applies” or “does not apply”."),
    ("input turn ▸left: signal", "expected “:”, or “turn left” in quotation marks where it is one name."),
    ("input x: selector off▸", "expected “,” and another position."),
    ("input x: signal; held ▸20 min", "hold time is 20 min; expected from 1 ms to 10 min."),
    ('input x: signal; gateway "a", ▸0 per second, asleep off', "rate is 0; expected from 0.001 to 10,000 a second."),
    ("input x: selector off, ▸lost", "position is lost; expected another name: every input can be lost."),
    ("channel x: lamp; ▸3000 A", "current is 3000; expected from 0 to 2,000 A."),
    ("channel x: lamp; 1.2▸", "expected “A”."),
    ("channel x: lamp; colour ▸amber", "“amber” is no colour; expected “red”, “blue”, “yellow”, “white”, “green” or “none”."),
    ("head h: red, ▸red; at most 2 A", "“red” is the name of another colour of this head already"),
    ("pattern ▸p: 300 ms on, 300 ms on", "pattern is never dark; expected at least one lit and one dark step."),
    ("pattern p: ▸70 s on, 300 ms off", "time is 70 s; expected from 1 ms to 10 s."),
    ("pattern p: 300 ms on, 300 ms off; limit ▸foo", "“foo” is no limit of flash rates; expected “sae-j845”, "),
    ("claim c: never ▸red", "“red” is an output; expected what it does after it: “is lit”, “is off”, "),
    ("claim c: always brake; because ▸agreed", "expected a text in quotation marks."),
]  # fmt: skip


@pytest.mark.parametrize(("typed", "message"), MISTAKES)
def test_a_mistake_is_told_at_its_place_with_what_was_expected(typed: str, message: str) -> None:
    with pytest.raises(LanguageError) as raised:
        parse_schedule(PARTS + typed.replace("▸", ""))

    fault = raised.value.faults[0]
    assert (fault.place.line, fault.place.column) == (7, typed.index("▸") + 1)
    assert message in fault.message
