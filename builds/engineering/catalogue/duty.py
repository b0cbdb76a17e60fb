"""Kinds of finding about duty profiles, shedding, restart, timers and the reserve: id, weight, sentence, meaning, mending, rule."""

from builds.engineering.catalogue_kind import BLOCKING, CAUTION, NOTE, FindingKind, kind

__all__ = ["DUTY"]

_PROFILE = (
    "the duty profile simulated: rated capacity, Peukert exponent, internal resistance, sources at their lowest voltage"
)
_SHEDDING = "the shedding simulated with its delays; common practice, no published source"
_RESERVE = "fire-apparatus production specifications: engine off for 10 min on half the reserve capacity, then restart"

DUTY: tuple[FindingKind, ...] = (
    kind("profile-battery-low", BLOCKING,
         "In {profile} battery {battery} has given the part of it that may be used after {time}, in segment {segment}.",
         "What follows comes out of the part that is kept back, and after that there is nothing.",
         "Fit more capacity, shed loads earlier, or run the engine longer before.", _PROFILE),
    kind("profile-loads-unserved", BLOCKING,
         "In {profile} {unserved} of the {asked} that the loads ask for are not served: a battery is empty, or cannot carry them.",
         "Everything on it is off until the next segment. Charge that it gains meanwhile it has only because of that.",
         "Fit more capacity, shed loads earlier, or run the engine longer before.", _PROFILE),
    kind("profile-figures-end", CAUTION,
         "The figures of {profile} hold up to {time}: a step went off {count} times in one stretch and was kept off from there.",
         "The vehicle goes on switching, and its batteries end lower than the figures say.",
         "Restore the step higher, then read the profile again.", _SHEDDING),
    kind("profile-not-recovered", NOTE,
         "After {profile} battery {battery} is at {end}; it began at {start}.",
         "Used like this day after day it sinks a little more each time.",
         "Charge it from the shore, or drive longer.", _PROFILE),
    kind("profile-without-segments", NOTE,
         "Duty profile {profile} has no segments.",
         "There is nothing to simulate.",
         "Add its segments, or take it out.", "the duty profiles of this build"),
    kind("will-not-restart", BLOCKING,
         "In {profile} the engine does not start in segment {segment}: the starter has {voltage} and needs {least}.",
         "The vehicle stands where it is until somebody jumps it.",
         "Spare the battery that starts it, or shed more of what hangs on it.",
         "starter current over the battery's and cable's resistance; least voltage of the starting system, 9.6 V from service manuals where none is given"),
    kind("restart-drops-load", CAUTION,
         "In {profile}, when the engine is cranked in segment {segment}, {loads} {drop} out: the battery is at {voltage}.",
         "A module that drops out at every start boots again, and what it drives goes off meanwhile.",
         "Feed it from the battery that does not start the engine, or keep the engine from stopping with it on.",
         "the device's own least voltage"),
    kind("shedding-chatters", CAUTION,
         "In {profile} step {step} goes off {count} times in segment {segment}: letting go lifts the voltage above {restore}.",
         "Loads that come and go wear relays out and tell nobody anything.",
         "Restore above {proposed}, which only a source brings back.", _SHEDDING),
    kind("never-shed-in-step", CAUTION,
         "{load} is never to be shed, and names step {step}; it stays on.",
         "One of the two is a mistake.",
         "Take it out of the step, or off the list.", "the never-shed list of this build"),
    kind("shed-step-empty", NOTE,
         "Shedding step {step} sheds nothing.",
         "No load names it.",
         "Name it at the loads that go off with it, or take it out.", "the shedding steps of this build"),
    kind("run-on-flattens", BLOCKING,
         "After the key is off timers take {used} from {battery}; {allowed} may be used.",
         "The vehicle does not start after a single stop, whatever sleeps well afterwards.",
         "Shorten the timers, or feed what runs on from a battery that does not start the engine.",
         "maker bulletin: no start after about 40 % of the available ampere-hours"),
    kind("reserve-check-failed", BLOCKING,
         "In {condition} battery {battery} gives {used} in {minutes}; {allowed} is {ratio} of its reserve.",
         "The load with the engine off leaves too little to start it again.",
         "Fit more capacity, or take loads out of this condition.", _RESERVE),
    kind("reserve-no-restart", BLOCKING,
         "After the engine-off test of {condition} the starter has {voltage} and needs {least}.",
         "The test ends with starting the engine.",
         "Fit more capacity, or take loads out of this condition.", _RESERVE),
    kind("reserve-unknown", CAUTION,
         "Condition {condition} asks for the engine-off test, and {battery} states no reserve minutes.",
         "The test is against the reserve capacity, which is another figure than the ampere-hours.",
         "Read the reserve minutes from the battery's label.", _RESERVE),
)  # fmt: skip
