"""
The findings of function schedules: every id that :mod:`checks` can report, with its weight, its words and its rule.

The same kind of record as :mod:`builds.engineering.catalogue` holds for the rest of a design; subjects are "rule:rear cut",
"claim:…", "channel:…", "input:…", "head:…", "pattern:…", "sync:…", "file:…".
"""

from collections.abc import Mapping
from types import MappingProxyType

from builds.engineering.catalogue_kind import FindingKind
from builds.engineering.findings import Finding, Number, Severity

__all__ = ["FUNCTION_CATALOGUE", "found"]

_BLOCKING, _CAUTION, _NOTE = Severity.BLOCKING, Severity.CAUTION, Severity.NOTE
_PRACTICE = "common practice, no published source"
_PROOF = "proof over every reachable state of this schedule"


def _kind(id_: str, severity: Severity, template: str, meaning: str, hint: str, source: str) -> FindingKind:
    return FindingKind(id=id_, severity=severity, template=template, meaning=meaning, hint=hint, source=source)


_CLAIMS = (
    _kind("claim-refuted", _BLOCKING,
          "Claim {claim} does not hold: {how}{what}{doubt}.",
          "A state the vehicle can reach breaks what was promised of it.",
          "Change the rules that decide there, or the claim.", _PROOF),
    _kind("claim-open", _CAUTION,
          "Claim {claim} is neither proved nor refuted: its timers lead further than the search goes.",
          "No state was found that breaks it, and none was excluded.",
          "Nest fewer timers in the rules it speaks of.", _PROOF),
    _kind("claim-undecided-when-lost", _NOTE,
          "Claim {claim} holds wherever its signals are known; {how} it says nothing.",
          "A lost signal leaves a condition undecided, and an undecided claim is not broken.",
          "Ask “is lost” in the claim where a lost signal should count.", _PROOF),
    _kind("given-breaks-rest", _BLOCKING,
          "The givens exclude the setting in which everything is at rest.",
          "Proofs leave out what a given excludes, and rest is where every vehicle stands.",
          "Correct the given, or where an input rests.", _PROOF),
)  # fmt: skip

_RULES = (
    _kind("rule-never-holds", _CAUTION,
          "Rule {rule} can never hold.",
          "Its condition contradicts itself, a given, or what lets go of its buttons.",
          "Correct its condition or take it out.", _PROOF),
    _kind("rule-never-wins", _CAUTION,
          "Rule {rule} never decides anything: whenever it holds, {others} {decide} on all its targets.",
          "It is shadowed by rules of higher priority, or always cut.",
          "Give it a higher priority, narrow the others, or take it out.", _PROOF),
    _kind("rule-never-wins-on", _NOTE,
          "Rule {rule} never decides on {channels}.",
          "On these of its targets a rule of higher priority always holds too, or they are always cut.",
          "Leave them out of its targets, or raise its priority.", _PROOF),
    _kind("rule-tie", _CAUTION,
          "Rules {rule} and {other} have one priority, {priority}, and ask different things of {channels}: both hold {how}.",
          "Which of them decides rests on their order alone.",
          "Give them different priorities.", _PROOF),
)  # fmt: skip

_PARTS = (
    _kind("schedule-fault", _BLOCKING,
          "{where}: {message}",
          "A name or value in the schedule stands for nothing, so nothing can be said of it.",
          "Correct it where it stands.", "the names of this schedule"),
    _kind("output-undriven", _CAUTION,
          "Nothing ever lights or drives {channel}.",
          "No rule names it, or none that does ever decides.",
          "Add the rule that is missing, or take the channel out.", _PROOF),
    _kind("output-only-held-dark", _NOTE,
          "Nothing ever lights {channel}, and {rules} {hold} it dark.",
          "Right for a lamp that the vehicle lights and the build only keeps from it; else the rule that lights it is missing.",
          "Add the rule that lights it, if one should.", _PROOF),
    _kind("input-unread", _NOTE,
          "No rule reads {input}.",
          "A control that does nothing, or a wire nobody needs.",
          "Add the rule that is missing, or take the input out.", "the rules of this schedule"),
    _kind("input-without-source", _NOTE,
          "Signal {input} does not say where it comes from.",
          "The technician cannot connect it, and nobody knows what it says asleep.",
          "Name its wire or its gateway message.", _PRACTICE),
    _kind("blinking-without-hold", _CAUTION,
          "{input} reads a blinking wire {hold}; it is dark for up to {dark} at a time.",
          "Without a long enough hold every rule that reads it goes on and off with the lamp.",
          "Hold it for {dark} or longer.", "49 CFR 571.108 flasher rate 60 to 120 a minute; lit for 30 to 75 % of the cycle: from memory, editable"),
    _kind("input-wavers", _CAUTION,
          "{input} tells of a figure at its limit and is not held; {rules} {follow} it.",
          "A figure wavers around its limit, and what follows it goes on and off with it.",
          "Hold it for some seconds, as long as its source needs to settle.", _PRACTICE),
    _kind("timer-chatters", _CAUTION,
          "Rule {rule}: its timer “{timer}” starts anew whenever {input} blinks or wavers.",
          "The timer never runs out, or runs out and starts again without end.",
          "Hold the input, or time something steadier.", _PROOF),
    _kind("channel-low-side", _NOTE,
          "{channel} is switched in its way back: its load is live while it is off.",
          "A chafed wire behind the load turns it on, and its device does not open.",
          "Switch its feed where the load allows it.", _PRACTICE),
    _kind("channel-load-missing", _CAUTION,
          "{channel} feeds load {load}, which the design does not have.",
          "What this channel takes is in no figure.",
          "Name a load of the design.", "the loads of this build"),
)  # fmt: skip

_DESIGN = (
    _kind("channel-zone-missing", _CAUTION,
          "{channel} stands in zone {zone}, which the platform does not have.",
          "The picture cannot place it, and nobody knows where it is mounted.",
          "Name a zone of the platform.", "the zones of this platform"),
    _kind("load-held-steady", _CAUTION,
          "Load {load} is sized as never steady, and {rules} {hold} {channels} steady.",
          "Its fuse and wire are sized on its flashing current.",
          "Say that the load can be steady, or let the rule flash.", _PRACTICE),
    _kind("load-under-channels", _CAUTION,
          "Channels {channels} take {current} together by the function schedule; their load {load} takes {limit}.",
          "A load's current is that of all its channels lit at once, and a setting takes the part that is lit of it.",
          "Correct the current of the load, or of its channels.", "the loads of this build"),
    _kind("condition-setting-unknown", _BLOCKING,
          "{condition} sets {setting}, which the function schedule does not know; expected {expected}.",
          "What is on in this condition cannot be told, so its figures leave this setting out.",
          "Set inputs of the schedule in the condition, or declare the input.", "the function schedule of this build"),
    _kind("condition-load-dark", _NOTE,
          "{condition} names {loads}, which {are} dark there by the rules.",
          "Where a condition sets inputs, the rules say what is on of all they drive; the names are read over.",
          "Take the names out of the condition, or change the rules.", "the function schedule of this build"),
)  # fmt: skip

_LIGHTS = (
    _kind("flash-rate", _CAUTION,
          "Pattern {pattern} flashes {rate} times a minute; {limit} asks for {least} to {most}.",
          "A flash outside these rates is not accepted as a warning lamp of this kind, or is taken for another.",
          "Change the times of its steps.", "the standard named with the limit"),
    _kind("flash-uneven", _NOTE,
          "Pattern {pattern} flashes unevenly, from {slowest} to {fastest} times a minute.",
          "An average within the limits is not the whole question.",
          "Ask whoever certifies the lamp.", "NHTSA interpretation letter GF006498"),
    _kind("sync-periods-differ", _CAUTION,
          "Patterns {patterns} keep step by {sync} and take {periods}.",
          "Patterns of different length drift apart, whatever clock they share.",
          "Give them one length.", _PRACTICE),
    _kind("head-over-maximum", _BLOCKING,
          "Head {head} takes {current} with {how}; it is made for {limit}.",
          "The head or its driver overheats, or it dims in a way nobody chose.",
          "Let one colour give way, put the flashes out of step, or choose another head.", "the maker's rating of the head"),
    _kind("head-shares-nothing", _CAUTION,
          "Head {head} shares its colours and does not say what it may take, so nothing is lowered.",
          "What its driver does when several colours are lit is not in what claims, plan and loads reckon with.",
          "Write what it may take: “at most … A”.", "the maker's rating of the head"),
)  # fmt: skip

_FILES = (
    _kind("file-older-than-schedule", _CAUTION,
          "{device} was loaded with {file} for another schedule than this one.",
          "The wiring is right and the file is wrong: the schedule changed after the file was loaded.",
          "Write the file anew from this schedule, load it and read it back.", _PRACTICE),
    _kind("file-not-loaded", _CAUTION,
          "{device} {has} no file loaded.",
          "A programmable device does what its file says, and none is written down for it.",
          "Write down its serial number, load the file written from this schedule, write the loading and have it read back.",
          _PRACTICE),
    _kind("file-not-read-back", _NOTE,
          "{device} was loaded with {file} and not read back.",
          "Nobody has seen that the device holds what was sent to it.",
          "Read it back and compare.", _PRACTICE),
)  # fmt: skip

FUNCTION_CATALOGUE: Mapping[str, FindingKind] = MappingProxyType(
    {kind.id: kind for family in (_CLAIMS, _RULES, _PARTS, _DESIGN, _LIGHTS, _FILES) for kind in family}
)


def found(
    id_: str,
    subject: str,
    *,
    numbers: tuple[Number, ...] = (),
    source: str = "",
    **words: str,
) -> Finding:
    """
    Return a finding of this catalogue with its sentence filled in.

    Parameters
    ----------
    id_ : str
        An id of the catalogue; KeyError names one that is not there.
    subject : str
        "family:key".
    numbers : tuple of Number
        The exact figures behind the words.
    source : str
        Whose rule it is, where that is more exact than what the catalogue says.
    words : str
        The named places of template and hint.
    """
    kind = FUNCTION_CATALOGUE[id_]
    return Finding(
        id=id_,
        severity=kind.severity,
        subject=subject,
        message=kind.template.format(**words),
        numbers=numbers,
        hint=kind.hint.format(**words),
        source=source or kind.source,
    )
