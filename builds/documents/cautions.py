"""
The cautions that every packet prints, each with whom it defers to.

They state facts and name who decides; the shop's software decides none of it. Entries are found by ``key``, so that a
translation can stand beside them. Where the basis is a regulation, readers are told to read its present edition.
"""

from dataclasses import dataclass

__all__ = ["CAUTIONS", "Caution"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution: a head, the words, and who decides."""

    key: str
    head: str
    words: str
    decides: str


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        key="airbag-zones",
        head="Keep every airbag's path free.",
        words="Mount nothing on the dash, the seat sides, the roof rails or the console where an airbag opens; one fills in about a "
        "twentieth of a second. A shield in front of equipment is no proven remedy. Do not re-cover seats with side airbags.",
        decides="the vehicle maker's guide for upfitters of this model year; FMVSS 208, 214 and 226 in their present edition",
    ),
    Caution(
        key="required-lamps",
        head="Leave the lamps the vehicle must have as they were.",
        words="Stop lamps stay steady when braking; no required lamp is rewired to flash or to go dark.",
        decides="49 USC 30122 and NHTSA's letters on it; the state vehicle code",
    ),
    Caution(
        key="right-of-way",
        head="Warning lights and siren ask for the right of way; they do not give it.",
        words="The driver keeps the duty of due regard for others. Try lights and siren before each shift.",
        decides="the state vehicle code; the policy of your service",
    ),
    Caution(
        key="lamp-colours",
        head="Which colours may be shown depends on the vehicle and the state.",
        words="Colours of warning lamps are restricted by state and by what the vehicle is. Nothing in this packet says which are allowed.",
        decides="the state vehicle code",
    ),
    Caution(
        key="siren-noise",
        head="A siren hurts ears nearby.",
        words="Wear hearing protection when working by a siren that sounds, and close the windows.",
        decides="29 CFR 1910.95 (action from 85 dBA over a shift); the siren maker's sheet",
    ),
    Caution(
        key="high-voltage",
        head="Orange cable carries high voltage.",
        words="Do not cut, drill beside, bend or tap it. Charge stays after the system is off.",
        decides="the vehicle maker's procedure, by people trained in it; the maker's emergency response guide",
    ),
    Caution(
        key="battery-gas",
        head="Batteries can give off gas that burns.",
        words="Sealed batteries too, when overcharged. A battery box is vented, drained, covered and fastened.",
        decides="the battery maker; the vehicle maker; 49 CFR 393.30 where it applies",
    ),
    Caution(
        key="fire",
        head="Twelve volts can start a fire.",
        words="Replace a fuse only with one of the same figure; if it opens again, find the cause. Take no feed from a factory circuit. "
        "Insulate every spare end.",
        decides="the vehicle maker; SAE J1292; the fire authority",
    ),
    Caution(
        key="body-holes",
        head="An open hole in the body lets exhaust in.",
        words="Every hole made is listed in section 8 with what seals it. Headache or dizziness aboard: stop, air the vehicle, have it looked at.",
        decides="the vehicle maker",
    ),
    Caution(
        key="weight",
        head="What was added is load that can no longer be carried.",
        words="Keep within the rating of each axle and of the whole vehicle; section 9 says what is left.",
        decides="the certification label of the vehicle; a scale",
    ),
    Caution(
        key="jump-start",
        head="Start from another vehicle only as the maker says.",
        words="Use the posts the vehicle maker names, never a terminal of the added electronics. Do not open a main disconnect while the engine "
        "runs: the voltage that follows can destroy devices.",
        decides="the vehicle maker's manual; each device maker's limit of voltage",
    ),
    Caution(
        key="radio",
        head="Radios need a licence and the right surroundings.",
        words="Transmit only as licensed. Where a vehicle burns or carries LP gas, radio equipment is kept apart from it.",
        decides="FCC rules; NFPA 58",
    ),
    Caution(
        key="loose-gear",
        head="Whatever is loose becomes a missile in a crash.",
        words="Stow and fasten everything before driving. This packet makes no claim on how a mount behaves in a crash.",
        decides="test evidence of the maker of the mount or restraint",
    ),
)
