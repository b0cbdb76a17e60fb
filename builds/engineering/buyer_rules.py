"""
The catalogue of rules a buyer may ask for: what each means, its unit, its default and where the default comes from.

Buyers contradict each other, so every rule is a value on their profile and none is code. A default tagged "from memory"
or "common practice" is a starting point to be edited, not a fact.
"""

from dataclasses import dataclass

from builds.engineering.design import Buyer, DropRule
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.vocabulary import DropCurrent, HoldSigner

__all__ = ["DEFAULT_DROP_RULES", "RULES", "RuleKind", "rule_number", "rule_text"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleKind:
    """A rule of the catalogue."""

    key: str
    name: str
    unit: str
    default: float | str
    least: float | None
    most: float | None
    choices: tuple[str, ...]
    source: str


def _number(key: str, name: str, unit: str, default: float, least: float, most: float, source: str) -> RuleKind:
    return RuleKind(key=key, name=name, unit=unit, default=default, least=least, most=most, choices=(), source=source)


def _choice(key: str, name: str, default: str, choices: tuple[str, ...], source: str) -> RuleKind:
    return RuleKind(key=key, name=name, unit="", default=default, least=None, most=None, choices=choices, source=source)


RULES: dict[str, RuleKind] = {
    rule.key: rule
    for rule in (
        _number("conductor-margin", "Conductor ampacity over device rating, at least", "ratio", 1.0, 0.8, 2.0,
                "California fleet electrical standard 3.4: conductor protected at its ampacity"),
        _number("device-loading", "Continuous load over device rating, at most", "ratio", 0.8, 0.3, 1.0,
                "published fuse guides: device at least 1.25 times the continuous load"),
        _number("device-distance", "Device from its source, at most", "m", 0.46, 0.0, 3.0,
                "common practice (18 in), no published source"),
        _number("key-off-limit", "Key-off draw, at most", "mA", 50.0, 1.0, 5000.0,
                "maker service manuals: more than 50 mA with everything off is a fault"),
        _number("key-off-days", "Days to stand and still start, at least", "d", 14.0, 0.0, 365.0,
                "common practice, no published source"),
        _number("key-off-usable", "Part of the battery that standing may use", "ratio", 0.4, 0.05, 1.0,
                "maker bulletin: no start after about 40 % of the available ampere-hours"),
        _number("reserve-usable", "Part of the reserve that the engine-off test may take", "ratio", 0.5, 0.05, 1.0,
                "fire-apparatus specifications: at most half of the reserve capacity"),
        _number("source-margin", "Source current left with everything on, at least", "ratio", 0.0, 0.0, 0.9,
                "common practice, no published source"),
        _number("feed-share", "Part of a drop limit that feeds and returns may take, where sizes are proposed", "ratio", 0.5, 0.05, 0.95,
                "common practice, no published source"),
        _number("feed-ratio", "Rating of a feed's device over that of a device behind it, near below", "ratio", 1.5, 1.0, 4.0,
                "common practice, no published source"),
        _number("stud-drop", "Voltage between a ground stud and the battery's negative post, at most", "V", 0.1, 0.01, 1.0,
                "common practice, no published source"),
        _number("ground-step", "What switching loads may move a radio's ground by, at most", "V", 0.02, 0.0, 1.0,
                "common practice, no published source"),
        _number("jump-start-v", "Voltage of a jump start that devices must bear, 0: not asked", "V", 0.0, 0.0, 60.0,
                "the buyer's contract; 24 V where trucks help out, common practice, no published source"),
        _number("label-spacing", "Wire legend repeated every", "mm", 76.0, 20.0, 1000.0,
                "fire body purchase specifications: every 3 in"),
        _number("support-spacing", "Unenclosed wire secured every", "mm", 460.0, 50.0, 2000.0,
                "92 Ill. Adm. Code 435 App. C"),
        _number("spare-positions", "Spare panel positions, at least", "positions", 2.0, 0.0, 50.0,
                "MIL-T-28571G: two spare breakers"),
        _number("near-margin", "A figure is near its limit with less left than", "ratio", 0.05, 0.0, 0.5,
                "common practice, no published source"),
        _number("crew-mass", "A crew member with their gear", "kg", 68.0389, 40.0, 300.0,
                "49 CFR 567.4(g)(3): 150 lb a seat, until the buyer says what their crew weighs"),
        _number("side-balance", "Difference of the sides over the whole weight, at most", "ratio", 0.05, 0.005, 0.5,
                "ambulance purchase specifications: sides within 5 %, from memory, editable"),
        _number("labour-rate", "Labour", "per hour", 110.0, 0.0, 10_000.0, "invented for the demo shop"),
        _number("tax-ratio", "Sales tax on taxed lines", "ratio", 0.0, 0.0, 0.5, "the buyer's exemption or the place of sale"),
        _number("warranty-months", "Workmanship warranty on low-voltage wiring", "months", 12.0, 0.0, 240.0,
                "from memory, editable: one to three years is usual"),
        _choice("min-gauge", "Smallest conductor", "18", (), "33 CFR 183.425: 16 AWG, 18 inside a sheath; the shop's own floor"),
        _choice("stocked-gauges", "Conductors on the shelf, by gauge", "all", (), "the shop's own shelf; “all” or a list: 18, 16, 14"),
        _choice("stocked-ratings", "Devices on the shelf, by rating in amperes", "all", (), "the shop's own shelf; “all” or a list: 5, 10, 15"),
        _choice("backup-device", "A feed's device backs up the devices behind it", "not cited", ("not cited", "cited"),
                "the device maker's coordination table, named as this rule's source"),
        _choice("coordination", "A device is set against the one before it", "by rating", ("by rating", "by opening times"),
                "common practice, no published source; opening times are those of the device families"),
        _choice("hold-signer", "Who may sign a hold point", HoldSigner.INSPECTOR, tuple(HoldSigner),
                "the buyer's contract"),
        _choice("splices", "Splices", "visible and sealed", (), "state fleet standards differ: none, or sealed and secure"),
        _choice("joints", "Joints", "crimp with the maker's tool", (), "state rules differ: solder, or an equally effective connector"),
    )
}  # fmt: skip

DEFAULT_DROP_RULES: tuple[DropRule, ...] = (
    DropRule(key="drop-general", drop_class="*", limit_ratio=0.10, base_v=12.0, current=DropCurrent.PEAK,
             conductor_temp_c=50.0, source="fire-apparatus purchase specifications: 10 % from source to device", follows_bus=True),
    DropRule(key="drop-critical", drop_class="critical", limit_ratio=0.03, base_v=12.0, current=DropCurrent.PEAK,
             conductor_temp_c=50.0, source="marine practice: 3 % for electronics, navigation lights and feeders", follows_bus=True),
    DropRule(key="drop-radio", drop_class="radio", limit_ratio=0.2 / 12.0, base_v=12.0, current=DropCurrent.PEAK,
             conductor_temp_c=50.0, source="radio makers: 0.2 V at peak in the feed"),  # volts, whatever the bus
)  # fmt: skip


def rule_number(buyer: Buyer, key: str) -> float:
    """Return the buyer's value of a numeric rule, or the catalogue's default. Raises UnknownTableEntry."""
    value = _rule_value(buyer, key)
    if isinstance(value, str):
        raise UnknownTableEntry("The catalogue of numeric buyer rules", key)
    return float(value)


def rule_text(buyer: Buyer, key: str) -> str:
    """Return the buyer's value of a worded rule, or the catalogue's default. Raises UnknownTableEntry."""
    return str(_rule_value(buyer, key))


def _rule_value(buyer: Buyer, key: str) -> float | str:
    if key not in RULES:
        raise UnknownTableEntry("The catalogue of buyer rules", key)
    for rule in buyer.rules:
        if rule.key == key:
            return rule.value
    return RULES[key].default
