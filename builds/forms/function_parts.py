"""Forms of the parts of a function schedule: each writes the statement that its text would have."""

from typing import Any

from django import forms

from builds.engineering.functions.language import parse_condition
from builds.engineering.functions.printing import print_condition
from builds.engineering.functions.reading import Part
from builds.engineering.functions.schedule import Channel, Claim, GatewaySource, Head, Input, WireSource
from builds.engineering.functions.vocabulary import (
    OFF,
    ActiveLevel,
    ChannelJob,
    ChannelKind,
    ClaimKind,
    Colour,
    DimMethod,
    Facing,
    HeadRule,
    InputKind,
    Level,
    SignalMeaning,
    SwitchedSide,
)
from builds.forms.function_fields import (
    NEEDED,
    PartForm,
    checked_condition,
    choices_of,
    names_in,
    number_words,
    told_choices,
    typed_names,
)

__all__ = ["ChannelForm", "ClaimForm", "HeadForm", "InputForm"]

_KINDS = {
    InputKind.SIGNAL: "signal of the vehicle", InputKind.SELECTOR: "selector with named positions",
    InputKind.DIMMER: "dimmer with named positions", InputKind.PUSH: "push button", InputKind.HOLD: "button to hold",
    InputKind.LATCHING: "button that stays on", InputKind.TOGGLE: "switch",
}  # fmt: skip
_HEAD_RULES = {
    HeadRule.TOGETHER: "together: all that are asked for", HeadRule.FIRST: "first: the first of the list alone",
    HeadRule.SHARED: "shared: all, lowered to what the head may take",
}  # fmt: skip
_CLAIMS = {ClaimKind.ALWAYS: "always", ClaimKind.NEVER: "never", ClaimKind.WHENEVER: "whenever … then …"}
_CONDITION = "Inputs with and, or, not, is, is one of, for at least 3 s; outputs with is lit, is off, is flashing"


class InputForm(PartForm):
    """An input: what it is, what it tells, and where it comes from."""

    kind = forms.ChoiceField(label="What it is", choices=told_choices(_KINDS))
    positions = forms.CharField(
        label="Positions", required=False, help_text="For a selector or dimmer: names with commas, rest first"
    )
    means = forms.ChoiceField(label="What it tells", choices=choices_of(SignalMeaning), required=False)
    rest = forms.CharField(
        label="Rests at",
        required=False,
        max_length=40,
        help_text="Where nobody asks for anything; off, or the first position",
    )
    source = forms.ChoiceField(
        label="Comes from",
        choices=[("", "–"), ("wire", "a wire"), ("gateway", "a message of the gateway")],
        required=False,
    )
    pin = forms.CharField(label="Pin of the wire", required=False, max_length=40)
    active = forms.ChoiceField(label="The wire says yes", choices=choices_of(ActiveLevel), required=False)
    blinking = forms.BooleanField(label="The wire blinks", required=False)
    message = forms.CharField(label="Message of the gateway", required=False, max_length=80)
    rate_hz = forms.FloatField(
        label="Messages a second", required=False, error_messages=number_words("a number from 0.001 to 10,000")
    )
    asleep = forms.CharField(label="What the message says asleep", required=False, max_length=40)
    hold_ms = forms.IntegerField(
        label="Held for, in ms",
        required=False,
        error_messages=number_words("a whole number from 1 to 600,000"),
        help_text="For a blinking wire, or a figure that wavers at its limit",
    )

    @staticmethod
    def values_of(part: Input) -> dict[str, Any]:
        """Return what the fields of an input hold."""
        said: dict[str, Any] = {
            "key": part.key, "kind": part.kind.value, "positions": typed_names(part.positions),
            "means": part.means.value, "rest": part.rest if part.rest != part.stands[0] else "", "hold_ms": part.hold_ms,
        }  # fmt: skip
        match part.source:
            case WireSource(pin=pin, active=active, blinking=blinking):
                said |= {"source": "wire", "pin": pin, "active": active.value, "blinking": blinking}
            case GatewaySource(message=message, rate_hz=rate_hz, asleep=asleep):
                said |= {"source": "gateway", "message": message, "rate_hz": rate_hz, "asleep": asleep}
        return said

    def clean(self) -> dict[str, Any]:
        """Ask for what the chosen source needs."""
        needed = {
            "wire": {"pin": "Write the pin."},
            "gateway": {"message": "Write the message.", "rate_hz": "Write how often it comes."},
        }
        for name, said in needed.get(str(self.cleaned_data.get("source")), {}).items():
            if self.cleaned_data.get(name) in ("", None) and name not in self.errors:
                self.add_error(name, said)
        return super().clean()

    def part(self) -> Part:
        """Return the input that the fields say."""
        values = self.cleaned_data
        kind, positions = InputKind(values["kind"]), names_in(values["positions"])
        return Input(
            key=values["key"],
            kind=kind,
            positions=positions,
            rest=values["rest"].strip() or (positions[0] if kind.has_positions and positions else OFF),
            means=SignalMeaning(values["means"] or SignalMeaning.OTHER),
            source=self._source(),
            hold_ms=values["hold_ms"],
        )

    def _source(self) -> WireSource | GatewaySource | None:
        values = self.cleaned_data
        if values["source"] == "wire":
            active = ActiveLevel(values["active"] or ActiveLevel.HIGH)
            return WireSource(pin=values["pin"], active=active, blinking=values["blinking"])
        if values["source"] == "gateway":
            return GatewaySource(
                message=values["message"], rate_hz=values["rate_hz"], asleep=values["asleep"].strip() or OFF
            )
        return None


class ChannelForm(PartForm):
    """An output: what hangs on it, where it is, what it takes."""

    kind = forms.ChoiceField(label="What hangs on it", choices=choices_of(ChannelKind))
    side = forms.ChoiceField(label="Switched side", choices=choices_of(SwitchedSide))
    zone = forms.CharField(label="Zone", required=False, max_length=40, help_text="A zone of the vehicle's platform")
    facing = forms.ChoiceField(label="Shines to the", choices=choices_of(Facing))
    level = forms.ChoiceField(label="Level", choices=choices_of(Level))
    colour = forms.ChoiceField(label="Colour", choices=choices_of(Colour))
    load = forms.CharField(label="Load it feeds", required=False, max_length=40, help_text="The key of a load")
    current_a = forms.FloatField(
        label="Current while on, in A", required=False, error_messages=number_words("a number from 0 to 2,000")
    )
    job = forms.ChoiceField(label="Duty", choices=choices_of(ChannelJob))

    @staticmethod
    def values_of(part: Channel) -> dict[str, Any]:
        """Return what the fields of an output hold."""
        words = {name: getattr(part, name).value for name in ("kind", "side", "facing", "level", "colour", "job")}
        return words | {"key": part.key, "zone": part.zone, "load": part.load, "current_a": part.current_a or None}

    def part(self) -> Part:
        """Return the output that the fields say."""
        values = self.cleaned_data
        return Channel(
            key=values["key"],
            kind=ChannelKind(values["kind"]),
            side=SwitchedSide(values["side"]),
            zone=values["zone"],
            facing=Facing(values["facing"]),
            level=Level(values["level"]),
            colour=Colour(values["colour"]),
            load=values["load"],
            current_a=values["current_a"] or 0.0,
            job=ChannelJob(values["job"]),
        )


class HeadForm(PartForm):
    """A lamp head with several colours."""

    channels = forms.CharField(
        label="Its colours", help_text="Outputs with commas, first of them first", error_messages=NEEDED
    )
    max_current_a = forms.FloatField(
        label="Takes at most, in A",
        error_messages=number_words("a number above 0"),
        required=False,
        help_text="With all that is lit at one moment; empty where nobody says",
    )
    colours = forms.ChoiceField(label="Several colours at once", choices=told_choices(_HEAD_RULES))
    dims_by = forms.ChoiceField(label="Dims by", choices=choices_of(DimMethod))

    @staticmethod
    def values_of(part: Head) -> dict[str, Any]:
        """Return what the fields of a head hold."""
        channels = typed_names(part.channels)
        words = {"colours": part.colours.value, "dims_by": part.dims_by.value}
        return words | {"key": part.key, "channels": channels, "max_current_a": part.max_current_a or None}

    def clean_channels(self) -> tuple[str, ...]:
        """Say which output the schedule does not have."""
        return self._channels("channels")

    def part(self) -> Part:
        """Return the head that the fields say."""
        values = self.cleaned_data
        return Head(
            key=values["key"],
            channels=values["channels"],
            max_current_a=values["max_current_a"] or 0.0,
            colours=HeadRule(values["colours"]),
            dims_by=DimMethod(values["dims_by"]),
        )


class ClaimForm(PartForm):
    """Something that has to hold in every state the vehicle can reach."""

    kind = forms.ChoiceField(label="It holds", choices=told_choices(_CLAIMS))
    condition = forms.CharField(
        label="What",
        widget=forms.Textarea(attrs={"rows": 3, "spellcheck": "false"}),
        help_text=_CONDITION,
        error_messages=NEEDED,
    )
    then = forms.CharField(
        label="Then",
        required=False,
        widget=forms.Textarea(attrs={"rows": 2, "spellcheck": "false"}),
        help_text="For whenever: what holds as well",
    )
    basis = forms.CharField(label="Because", required=False, max_length=200, help_text="Where it comes from")
    defers_to = forms.CharField(label="Who decides", required=False, max_length=200)

    @staticmethod
    def values_of(part: Claim) -> dict[str, Any]:
        """Return what the fields of a claim hold."""
        return {
            "key": part.key, "kind": part.kind.value, "condition": print_condition(part.condition),
            "then": "" if part.then is None else print_condition(part.then), "basis": part.basis,
            "defers_to": part.defers_to,
        }  # fmt: skip

    def clean_condition(self) -> str:
        """Say at which column the condition cannot be read."""
        return checked_condition(str(self.cleaned_data["condition"]), self._schedule, reads_outputs=True)

    def clean_then(self) -> str:
        """Say at which column what follows cannot be read."""
        text = str(self.cleaned_data["then"])
        return checked_condition(text, self._schedule, reads_outputs=True) if text.strip() else ""

    def clean_basis(self) -> str:
        """The text stands in quotation marks."""
        return self._unquoted("basis")

    def clean_defers_to(self) -> str:
        """The text stands in quotation marks."""
        return self._unquoted("defers_to")

    def clean(self) -> dict[str, Any]:
        """Ask for what follows where something does, and only there."""
        values = self.cleaned_data
        if not self.errors and (values["kind"] == ClaimKind.WHENEVER) != bool(values["then"]):
            said = (
                "Say what then holds."
                if not values["then"]
                else "Only “whenever” has something that then holds; expected it empty."
            )
            self.add_error("then", said)
        return super().clean()

    def part(self) -> Part:
        """Return the claim that the fields say."""
        values = self.cleaned_data
        conditions = [
            parse_condition(text, self._schedule, reads_outputs=True) if text else None
            for text in (values["condition"], values["then"])
        ]
        assert conditions[0] is not None
        return Claim(
            key=values["key"],
            kind=ClaimKind(values["kind"]),
            condition=conditions[0],
            then=conditions[1],
            basis=values["basis"],
            defers_to=values["defers_to"],
        )
