"""
The catalogue of findings: every id that an assessment can report, with its weight, its words and where its rule is from.
Those of function schedules are kept beside what makes them, and are part of this one.

One id has one severity and one sentence. The sentence is a template with named places, so that a translation is data; a
finding fills them with figures rounded for people and carries the exact figures beside them. Ids are stable: documents,
overrides and other people's lists of expected findings name them.
"""

from collections.abc import Mapping
from types import MappingProxyType

from builds.engineering.catalogue_energy import DUTY
from builds.engineering.catalogue_feeding import FEEDING
from builds.engineering.catalogue_kind import BLOCKING, CAUTION, NOTE, SHOP, TREE, FindingKind, kind
from builds.engineering.findings import Finding, Number, ProposedFix
from builds.engineering.functions.catalogue import FUNCTION_CATALOGUE

__all__ = ["CATALOGUE", "FindingKind", "found"]

_AMPACITY = "33 CFR 183.425 Table 5, reference ambient 30 °C, with the ambient of the zone and the bundle"
_MARGIN = "California fleet electrical standard 3.4; buyers ask from 0.80 to 1.35"
_DEVICE = "device makers' loading rule: device at least 1.25 times the continuous load"
_WEIGHT = "certification label of the vehicle; 49 CFR 567.4(g)(3)"
_AIRBAG = "vehicle maker's upfit guide for this model year"


_CONDUCTORS = (
    kind("conductor-below-load", BLOCKING,
          "{where}: {gauge} carries {ampacity} at {ambient} in a bundle of {bundle}; its continuous current is {current}.",
          "The conductor is hotter than its insulation bears when everything that may be on together is on.",
          "Use a larger gauge, a cooler way or a smaller bundle.", _AMPACITY),
    kind("device-above-conductor", BLOCKING,
          "{where}: its {device} device lets more through than the {ampacity} that {gauge} carries at {ambient}.",
          "The device protects the conductor, and this one would let it overheat.",
          "Use a larger gauge or a smaller device.", _MARGIN),
    kind("conductor-below-margin", CAUTION,
          "{where}: {gauge} carries {ratio} times its {device} device; this buyer asks for {limit}.",
          "The conductor is protected, with less in hand than the buyer asks for.",
          "Use a larger gauge.", _MARGIN),
    kind("conductor-below-minimum", CAUTION,
          "{where}: {gauge} is smaller than this buyer's smallest, {minimum}.",
          "Thin wire breaks: buyers and shops set a smallest conductor.",
          "Use {minimum} or larger.", "33 CFR 183.425; the buyer's own floor"),
    kind("size-unknown", BLOCKING,
          "{where}: no table has {gauge} ({basis}) with {insulation} insulation, so what it carries and loses is not known.",
          "Without resistance and ampacity nothing that runs over this conductor can be computed.",
          "Choose a gauge of the build's gauge basis.", "conductor tables of the engine"),
)  # fmt: skip

_DEVICES = (
    kind("device-below-load", BLOCKING,
          "{where}: its {device} device carries {carries} at {ambient}; the loads take {current}.",
          "The device opens in ordinary use.",
          "Use the next larger device, and a conductor to match.", _DEVICE),
    kind("device-loading-exceeded", CAUTION,
          "{where}: a continuous {current} loads its {device} device, which carries {carries} at {ambient}, to {loading}; the limit is {limit}.",
          "A device near its rating ages and opens on a hot day.",
          "Use the next larger device, and a conductor to match.", _DEVICE),
    kind("device-not-standard", CAUTION,
          "{where}: the shop's list of {family} ratings has no {device}.",
          "The shop does not know this device, so it may not be on any shelf.",
          "Use a rating of the list with a conductor to match, or check this one on its maker's data sheet.",
          "the shop's list of device ratings, from memory where its rows say so, editable"),
    kind("device-family-unknown", CAUTION,
          "{where}: device family “{family}” is in no table, so its rerating and interrupting capacity are not checked.",
          "The engine has no data for this device.",
          "Choose a family of the tables, or check this one on its maker's data sheet.", "device tables of the engine"),
    kind("device-voltage-low", BLOCKING,
          "{where}: its {family} device is made for {rated}; the circuit has {nominal}.",
          "A device above its voltage may not put out its own arc.",
          "Use a family rated for this voltage.", "California fleet electrical standard 3.4: device voltage at least circuit voltage"),
    kind("device-above-feed", CAUTION,
          "{where}: its {device} device is not smaller than the {feed} device of run {run} that feeds it.",
          "A fault here may open the feed and put out everything beside it.",
          "Use a smaller device here or a larger one in the feed, each with a conductor to match.", SHOP),
    kind("device-not-selective", CAUTION,
          "{where}: from {upto} up to the {current} of a short just behind it, the {feed} of run {run} may open before its {device}.",
          "A fault here may put out everything beside it, although the feed's device has the larger rating.",
          "Use a slower or larger device in the feed, or a quicker one here.",
          "opening times of the device families with their tolerance, from memory, editable"),
    kind("breaker-cycles-at-source", BLOCKING,
          "{where}: its {device} breaker resets by itself, and no device before it stays open.",
          "While a short lasts it closes on it again and again, and the wire heats each time.",
          "Use a breaker that is reset by hand, or a fuse before it.", "SAE J553: a type 1 breaker needs another limiting device"),
    kind("breaker-cycles-on", CAUTION,
          "{where}: its {device} breaker resets by itself; a short at its far end draws {current}, which the {feed} device of run {run} does not open on.",
          "The short is fed again and again until somebody notices.",
          "Use a breaker that stays open, or a smaller device before it.", "SAE J553: a type 1 breaker needs another limiting device"),
    kind("device-too-far", CAUTION,
          "{where}: its device sits {distance} along the cable; this buyer asks for {limit} at most.",
          "The stretch before the device has nothing to protect it.",
          "Move the device towards the source, or sheath and shorten that stretch.", SHOP),
    kind("run-unprotected", BLOCKING,
          "{where} leaves a battery without a device.",
          "A chafed cable carries the whole short-circuit current of the battery.",
          "Fit a device at the battery end.", "California fleet electrical standard: main fuse at the battery's positive post"),
    kind("interrupting-capacity-low", BLOCKING,
          "{where}: a short just behind its {family} devices draws up to {current}; they break {capacity} at most.",
          "The device may burst instead of opening.",
          "Use a family that breaks more, lengthen the feed, or cite the device that backs it up.", "device makers' interrupting capacities"),
    kind("fault-not-cleared", BLOCKING,
          "{where}: a short at its far end draws {current}; its {device} device needs {needed} to open quickly.",
          "A short at the load would heat the wire for long without opening the device.",
          "Use a larger gauge, a smaller device or a better way back.", "time-current gates of the device families, from memory, editable"),
    kind("feed-fault-not-cleared", BLOCKING,
          "{where}: a short at {node} draws {current}; its {device} device needs {needed} to open quickly.",
          "A short behind the feed would heat its cable for long without opening the device.",
          "Use a smaller device, a larger gauge or a better way back.", "time-current gates of the device families, from memory, editable"),
)  # fmt: skip

_VOLTAGE = (
    kind("drop-over-limit", BLOCKING,
          "{where} loses {drop} on the way to {load} and back in {condition}; the limit is {limit}, {ratio} of {base}.",
          "The load gets less than the buyer's drop rule leaves it.",
          "Use a larger gauge here, or look at the feed, which takes {shared}.", "the buyer's drop rule"),
    kind("drop-near-limit", NOTE,
          "{where} loses {drop} on the way to {load} and back in {condition}, near its limit of {limit}, {ratio} of {base}.",
          "Anything added to its feed will carry it over.",
          "Leave this feed as it is, or use a larger gauge.", "the buyer's drop rule"),
    kind("load-cuts-out", CAUTION,
          "{load} cannot hold its {minimum} in {condition}, with {voltage} at the battery, and is off.",
          "Below its least voltage a device locks out, or drops out and comes back again and again.",
          "Use a larger gauge or a shorter way, or take it out of this condition.", "the device's own least voltage"),
    kind("no-operating-point", BLOCKING,
          "In {condition} the way to {load} carries {limit} at most; it asks for {power}.",
          "No voltage exists at which this constant-power load and its wiring agree: it would collapse.",
          "Use a larger gauge or a shorter way.", "largest power over a resistance: E²/4R"),
    kind("drop-class-without-rule", CAUTION,
          "{load} is in drop class {drop_class}, for which this buyer has no rule; the rule for all others is used.",
          "A class without a rule is usually a misspelt one, and the general limit is wider.",
          "Use a class that has a rule, or add the rule to the buyer.", "the buyer's drop rules"),
    kind("stud-drop-over-limit", CAUTION,
          "Ground {node} stands {rise} above the battery's negative post in {condition}; the limit is {limit}.",
          "Everything that returns here loses this much, and radios hear it.",
          "Use a better joint, a larger return cable, or another stud for part of the loads.", SHOP),
)  # fmt: skip

_TREE_FINDINGS = (
    kind("not-fed", BLOCKING,
          "{where} leaves {panel}, which no battery reaches; its loads are in no figure.",
          "The power tree ends before this circuit.",
          "Draw the run that feeds it.", TREE),
    kind("load-not-fed", CAUTION,
          "{load} is on in {condition}, but nothing feeds {panel} {state}.",
          "With the isolator open only what hangs on a battery's own side is alive.",
          "Take it out of this condition, or feed its panel from the other side of the isolator.", TREE),
    kind("no-way-back", BLOCKING,
          "{where} returns to {node}, from which no way leads to the negative of {battery}; its loads are in no figure.",
          "Current that goes out must come back.",
          "Draw the strap, stud or return run that is missing.", TREE),
    kind("disconnect-missing", CAUTION,
          "Panel {node} stays alive with every disconnect open.",
          "Whoever works on it, or cuts the vehicle open, cannot make it dead in one place.",
          "Feed it from behind the main disconnect.", SHOP),
    kind("link-unprotected-end", BLOCKING,
          "{where} is fed from both its ends, and towards {end} nothing protects it.",
          "A short in it draws from the second source past the only device.",
          "Protect it at {end} too: draw it in two runs, each with a device at its own source.", SHOP),
    kind("parallel-survivor", CAUTION,
          "Should {opened} open, {rest} carries {current} and is made for {carries}.",
          "One loose lug, and what is left heats without anything opening.",
          "Use a larger gauge for {rest}.", "common practice for conductors in parallel, no published source"),
    kind("disconnect-leaves-live", CAUTION,
          "With {node} open, {panels} {stay} alive by another way.",
          "Whoever opens it takes what is behind it for dead.",
          "Open the second way too, or lead both through one disconnect.", SHOP),
    kind("device-leaves-live", NOTE,
          "With the device of run {run} open, {panels} {stay} alive by another way.",
          "Whoever pulls it takes what is behind it for dead.",
          "Say so on its label, or feed the section one way only.", SHOP),
    kind("node-over-rating", BLOCKING,
          "{name} carries a continuous {current} in {condition}; it is made for {rating}.",
          "A panel, bus, disconnect or isolator above its rating overheats.",
          "Move circuits elsewhere or use a larger one.", "the maker's rating of the part"),
    kind("node-below-feed", CAUTION,
          "{name} is made for {rating}; what protects it, {runs}, lets {device} through.",
          "Nothing keeps it from carrying more than it is made for.",
          "Use a smaller device in its feed, or a larger part.", "the maker's rating of the part"),
    kind("position-doubled", BLOCKING,
          "Circuits {circuits} both stand at position {position} of {panel}.",
          "One position takes one device.",
          "Move one of them to a free position.", TREE),
    kind("position-beyond-panel", BLOCKING,
          "{where} stands at position {position} of {panel}, which has {positions}.",
          "There is no such position.",
          "Move it to a free position.", TREE),
    kind("spare-positions-few", NOTE,
          "Panel {node} has {spare} spare; this buyer asks for {limit}.",
          "The next piece of gear needs a place.",
          "Use a panel with more positions.", "MIL-T-28571G: two spare breakers"),
)  # fmt: skip

_IDENTITY = (
    kind("circuit-unlabelled", CAUTION,
          "{where} has no legend.",
          "Wiring nobody can trace is the complaint heard most.",
          "Give it a legend.", "92 Ill. Adm. Code 435 App. C; fire body purchase specifications"),
    kind("legend-doubled", CAUTION,
          "Circuits {circuits} carry the same legend, {legend}.",
          "Two wires with one name cannot be told apart.",
          "Give each its own legend.", "92 Ill. Adm. Code 435 App. C; fire body purchase specifications"),
    kind("colour-unknown", CAUTION,
          "{where}: {colour} is no wire colour.",
          "Colours are two letters, a stripe after a stroke: WH/RD.",
          "Use letters of IEC 60757.", "IEC 60757"),
    kind("circuit-without-load", NOTE,
          "{where} feeds nothing.",
          "A circuit held for later, or one whose load was forgotten.",
          "Add its load, or mark it spare in its legend.", TREE),
    kind("load-unused", NOTE,
          "{load} is on in no operating condition.",
          "It counts for its own device and wire and in no sum.",
          "Turn it on where it is used.", "the operating conditions of this build"),
    kind("vin-missing", NOTE,
          "The VIN is not written down yet.",
          "The packet, the weights and the alterer's label name the vehicle by it.",
          "Read it from the vehicle.", "49 CFR 565"),
    kind("vin-check-digit", CAUTION,
          "VIN {vin}: {fault}.",
          "One misread character in eleven passes; this one did not.",
          "Read it again from the vehicle, or record why the check does not apply.", "49 CFR 565.15(c)"),
    kind("model-year-differs", CAUTION,
          "By its VIN the vehicle is of model year {years}; {other}.",
          "Weights, airbags and points of connection belong to a model year.",
          "Read the VIN again from the vehicle, or choose the platform of its year.", "49 CFR 565.15(d), position 10"),
)  # fmt: skip

_ENERGY = (
    kind("source-deficit-at-speed", BLOCKING,
          "In {condition} the loads take {load} and the {source} gives {available} at road speed: {deficit} short.",
          "The battery empties while driving.",
          "Fit a larger source, or shed loads.", "mean current against the source's hot output"),
    kind("source-deficit-at-idle", CAUTION,
          "In {condition} the loads take {load} and the {source} gives {available} {how}: {deficit} short.",
          "The battery empties while standing with the engine on.",
          "Add a load-triggered fast idle, fit a larger source, or shed loads.", "mean current against the source's hot output"),
    kind("source-margin-low", CAUTION,
          "In {condition} the {source} has {margin} left of {available}; this buyer asks for {limit}.",
          "Nothing is left for the next piece of gear or a hot day.",
          "Fit a larger source, or shed loads.", "the buyer's rule for the source"),
    kind("source-missing", CAUTION,
          "Condition {condition} runs {state}, and nothing in the power tree charges.",
          "What the source gives cannot be set against what the loads take.",
          "Draw the alternator, or the DC-DC of an electric vehicle, with its figures.", TREE),
    kind("battery-time-short", BLOCKING,
          "In {condition} battery {battery} lasts {time}; this buyer asks for {limit}.",
          "The battery reaches its cut-off before the work is done.",
          "Fit more capacity, or take loads out of this condition.", "rated capacity, Peukert exponent and part that may be used"),
    kind("key-off-over-limit", CAUTION,
          "With the key off the added gear takes {draw}; the limit is {limit}.",
          "Key-off draw is the usual reason for a dead battery.",
          "Feed sleepers from behind a timer or the disconnect.", "maker service manuals: more than 50 mA is a fault"),
    kind("key-off-days-few", CAUTION,
          "Standing with the key off, the vehicle starts after {days} at most; this buyer asks for {limit}.",
          "The vehicle does not start after a holiday.",
          "Lower the key-off draw, or fit more capacity.", "maker bulletin: no start after about 40 % of the ampere-hours"),
)  # fmt: skip

_WEIGHTS = (
    kind("gvwr-exceeded", BLOCKING,
          "The vehicle weighs {mass} before anybody sits in it; its GVWR is {limit}.",
          "It is heavier than its maker rates it for.",
          "Take weight out or choose another chassis.", _WEIGHT),
    kind("payload-negative", BLOCKING,
          "With 150 lb on each of {seats} seats the vehicle is {over} above its GVWR of {limit}.",
          "Nothing is left for people and load.",
          "Take weight or seats out, or choose another chassis.", _WEIGHT),
    kind("front-axle-over-rating", BLOCKING,
          "The front axle carries {mass}; its GAWR is {limit}.",
          "An axle can be over its rating while the whole vehicle is under.",
          "Move weight towards the rear axle, or take it out.", _WEIGHT),
    kind("rear-axle-over-rating", BLOCKING,
          "The rear axle carries {mass}; its GAWR is {limit}.",
          "An axle can be over its rating while the whole vehicle is under.",
          "Move weight towards the front axle, or take it out.", _WEIGHT),
    kind("front-axle-near-rating", NOTE,
          "The front axle carries {mass}, near its GAWR of {limit}.",
          "Weigh it before delivery.",
          "Weigh both axles and keep the ticket.", _WEIGHT),
    kind("rear-axle-near-rating", NOTE,
          "The rear axle carries {mass}, near its GAWR of {limit}.",
          "Weigh it before delivery.",
          "Weigh both axles and keep the ticket.", _WEIGHT),
    kind("front-axle-over-rating-loaded", BLOCKING,
          "With {case} the front axle carries {mass}; its GAWR is {limit}.",
          "People weigh on the axle they sit near: the empty vehicle is under its rating, the one that drives is not.",
          "Move weight towards the rear axle, or take it out.", _WEIGHT),
    kind("rear-axle-over-rating-loaded", BLOCKING,
          "With {case} the rear axle carries {mass}; its GAWR is {limit}.",
          "People weigh on the axle they sit near: the empty vehicle is under its rating, the one that drives is not.",
          "Move weight towards the front axle, or take it out.", _WEIGHT),
    kind("crew-over-payload", CAUTION,
          "With {seats} people of {each} each the vehicle is {over} above its GVWR of {limit}; with 150 lb each it is not.",
          "The regulation counts 150 lb a seat. A crew in its gear weighs more.",
          "Take weight or seats out, or choose another chassis.", "the buyer's own crew; 49 CFR 567.4(g)(3) counts 150 lb"),
    kind("sides-unbalanced", CAUTION,
          "{case}, the {side} wheels carry {heavier} and the others {lighter}: {ratio} of the whole apart; this buyer asks for {limit} at most.",
          "A vehicle that leans pulls to one side and rolls more easily.",
          "Move gear to the other side.", "the buyer's rule for the sides"),
    kind("weight-label", NOTE,
          "The work adds {mass}, more than {limit}: a person decides about a label before the first sale.",
          "Light vehicles (10,000 lb and under) that gain more before their first sale carry a label saying so.",
          "Ask whoever certifies the vehicle.", "49 CFR 571.110 S10, lesser of 1.5 % of GVWR and 100 lb"),
    kind("zone-over-limit", BLOCKING,
          "Zone {zone} carries {mass} of added gear; the maker allows {limit}.",
          "Axles can be under their rating while a roof or a gate is over its own.",
          "Move or take out gear.", "vehicle maker's body-builder guide"),
    kind("part-in-no-mount-zone", BLOCKING,
          "{part} is placed in zone {zone}, {reason}.",
          "Gear in the way of an airbag becomes a projectile.",
          "Place it elsewhere. Consult {guide}.", _AIRBAG),
    kind("load-in-no-mount-zone", BLOCKING,
          "{part} is placed in zone {zone}, {reason}.",
          "Gear in the way of an airbag becomes a projectile.",
          "Place it elsewhere. Consult {guide}.", _AIRBAG),
    kind("node-in-no-mount-zone", BLOCKING,
          "{part} is placed in zone {zone}, {reason}.",
          "Gear in the way of an airbag becomes a projectile.",
          "Place it elsewhere. Consult {guide}.", _AIRBAG),
    kind("wire-in-no-mount-zone", BLOCKING,
          "{part} passes zone {zone}, {reason}.",
          "Wire in the way of an airbag keeps it from opening.",
          "Take it another way. Consult {guide}.", _AIRBAG),
)  # fmt: skip

_BILL = (
    kind("part-without-price", CAUTION,
          "{part} comes from the shop and has no price: it is quoted at 0.",
          "A part whose price was forgotten is given away with the first signature.",
          "Enter its price each, or say that somebody else brings it.", "the parts bill of this build"),
    kind("part-without-mass", CAUTION,
          "{part} has a place on the vehicle and no mass: no axle and no zone counts it.",
          "Weights are only as good as the lines they are added from.",
          "Enter its mass each; weigh one where no data sheet says.", "the parts bill of this build"),
)  # fmt: skip

_WORK = (
    kind("operations-cycle", BLOCKING,
          "Work waits for itself: {operations}.",
          "Work that waits for itself never starts.",
          "Take one of the waits out.", "the operations of this build"),
)  # fmt: skip

CATALOGUE: Mapping[str, FindingKind] = MappingProxyType(
    {
        entry.id: entry
        for family in (
            _CONDUCTORS,
            _DEVICES,
            _VOLTAGE,
            _TREE_FINDINGS,
            FEEDING,
            _IDENTITY,
            _ENERGY,
            DUTY,
            _WEIGHTS,
            _BILL,
            _WORK,
        )
        for entry in family
    }
    | dict(FUNCTION_CATALOGUE)
)


def found(
    id_: str,
    subject: str,
    *,
    numbers: tuple[Number, ...] = (),
    fix: ProposedFix | None = None,
    source: str = "",
    words: Mapping[str, str] = MappingProxyType({}),
    **more: str,
) -> Finding:
    """
    Return a finding of the catalogue with its sentence filled in.

    Parameters
    ----------
    id_ : str
        An id of the catalogue; KeyError names one that is not there.
    subject : str
        "family:key", or "build".
    numbers : tuple of Number
        The exact figures behind the words.
    fix : ProposedFix, optional
        A repair that can be applied as it stands.
    source : str
        Whose rule it is, where that is more exact than what the catalogue says.
    words, more : str
        The named places of template and hint, from a mapping and one by one.
    """
    entry, places = CATALOGUE[id_], {**words, **more}
    return Finding(
        id=id_,
        severity=entry.severity,
        subject=subject,
        message=entry.template.format(**places),
        numbers=numbers,
        hint=entry.hint.format(**places),
        source=source or entry.source,
        fix=fix,
    )
