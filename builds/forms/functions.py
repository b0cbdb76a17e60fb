"""Forms of a function schedule: the whole text, one statement, one rule field by field, what is loaded into a device."""

from typing import Any

from django import forms

from builds.engineering.functions.names import folded
from builds.engineering.functions.printing import print_condition, print_name, print_title
from builds.engineering.functions.schedule import FunctionSchedule, Rule
from builds.engineering.functions.vocabulary import EffectKind, FailState
from builds.engineering.ranges import MOST_COUNTED
from builds.forms.function_fields import checked_condition, names_in, number_words
from builds.models import Build, SerialNumber

__all__ = ["LoadingForm", "ReadBackForm", "RuleForm", "StatementForm"]

_NEEDED = {"required": "This may not stay empty."}
_EFFECTS = {
    EffectKind.STEADY: "steady", EffectKind.FLASH: "flash", EffectKind.OFF: "off", EffectKind.DIM: "dim to",
    EffectKind.INHIBIT: "inhibit (hold off whatever else is asked)", EffectKind.RELEASE: "release (let buttons go)",
}  # fmt: skip
_WITH_LEVEL = (EffectKind.STEADY, EffectKind.FLASH, EffectKind.DIM)


class StatementForm(forms.Form):
    """One statement in the language of schedules."""

    statement = forms.CharField(
        label="Statement", widget=forms.Textarea(attrs={"rows": 3, "spellcheck": "false"}), error_messages=_NEEDED
    )


class RuleForm(forms.Form):
    """A rule field by field; it writes the same statement that the text has."""

    key = forms.CharField(label="Name", max_length=40, error_messages=_NEEDED)
    priority = forms.IntegerField(
        label="Priority", min_value=0, max_value=9999, error_messages=number_words("a whole number from 0 to 9,999")
    )
    targets = forms.CharField(
        label="What it acts on", help_text="Outputs or sets, commas between them", error_messages=_NEEDED
    )
    effect = forms.ChoiceField(label="What it does", choices=[(kind.value, word) for kind, word in _EFFECTS.items()])
    pattern = forms.ChoiceField(label="Pattern", required=False, help_text="For flash")
    level = forms.IntegerField(
        label="Brightness in percent",
        min_value=1,
        max_value=100,
        required=False,
        help_text="For steady, flash and dim",
        error_messages=number_words("a whole number from 1 to 100"),
    )
    sync = forms.CharField(
        label="Keeps step by", max_length=40, required=False, help_text="A name of a clock, for flash"
    )
    phase = forms.IntegerField(
        label="Starts later by, in ms",
        min_value=0,
        max_value=MOST_COUNTED,
        required=False,
        error_messages=number_words(f"a whole number from 0 to {MOST_COUNTED:,}"),
        help_text="For flash",
    )
    condition = forms.CharField(
        label="When",
        widget=forms.Textarea(attrs={"rows": 3, "spellcheck": "false"}),
        help_text="Inputs with and, or, not, is, is one of, for at least 3 s, at most 10 s after",
        error_messages=_NEEDED,
    )
    fail = forms.ChoiceField(
        label="If a signal is lost and leaves it undecided",
        choices=[(state.value, f"it {state.value}") for state in FailState],
    )

    def __init__(self, schedule: FunctionSchedule, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._schedule = schedule
        field = self.fields["pattern"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", "–"), *((pattern.key, pattern.key) for pattern in schedule.patterns)]

    @staticmethod
    def values_of(rule: Rule) -> dict[str, Any]:
        """Return what the fields of a rule hold."""
        effect = rule.effect
        return {
            "key": rule.key,
            "priority": rule.priority,
            "targets": ", ".join(map(print_name, rule.targets)),
            "effect": effect.kind.value,
            "pattern": effect.pattern,
            "level": effect.level_percent if effect.level_percent < 100 else None,
            "sync": effect.sync,
            "phase": effect.phase_ms or None,
            "condition": print_condition(rule.condition),
            "fail": rule.fail.value,
        }

    def clean_condition(self) -> str:
        """Say at which column the condition cannot be read."""
        return checked_condition(str(self.cleaned_data["condition"]), self._schedule)

    def clean_targets(self) -> str:
        """Say which target the schedule does not have."""
        schedule = self._schedule
        keys = [one.key for one in schedule.channels] + [one.key for one in schedule.sets]
        known = {folded(key) for key in keys + [one.key for one in schedule.inputs]}
        names = names_in(str(self.cleaned_data["targets"]))
        missing = [name for name in names if folded(name) not in known]
        if missing or not names:
            raise forms.ValidationError(
                f"Nothing here is called “{', '.join(missing)}”." if missing else "Name an output."
            )
        return ", ".join(map(print_name, names))

    def clean(self) -> dict[str, Any]:
        """Ask for the pattern of a flash and the level of a dim."""
        values = super().clean() or {}
        effect = values.get("effect")
        if effect == EffectKind.FLASH and not values.get("pattern"):
            self.add_error("pattern", "Choose the pattern it flashes.")
        if effect == EffectKind.DIM and not values.get("level"):
            self.add_error("level", "Say to which brightness.")
        return values

    def statement(self) -> str:
        """Return the statement that the fields say."""
        values = self.cleaned_data
        return (
            f"rule {print_title(values['key'].strip())} (priority {values['priority']}): {values['targets']} "
            f"{self._effect()} when {values['condition']}; if lost, {values['fail']}"
        )

    def _effect(self) -> str:
        values, kind = self.cleaned_data, EffectKind(self.cleaned_data["effect"])
        said = [kind.value]
        level = values.get("level")
        if kind is EffectKind.FLASH:
            said.append(print_name(values["pattern"]))
        if kind in _WITH_LEVEL and level and (level < 100 or kind is EffectKind.DIM):
            said.append(f"{'to' if kind is EffectKind.DIM else 'at'} {level} %")
        if kind is EffectKind.FLASH and values.get("sync"):
            said.append(f"sync {print_name(values['sync'].strip())}")
        if kind is EffectKind.FLASH and values.get("phase"):
            said.append(f"phase {values['phase']} ms")
        return " ".join(said)


def _device_words(obj: SerialNumber) -> str:
    return f"{obj.part_line.description} {obj.serial}"


class LoadingForm(forms.Form):
    """A file loaded into a device."""

    serial: "forms.ModelChoiceField[SerialNumber]" = forms.ModelChoiceField(
        label="Device",
        empty_label="–",
        queryset=None,
        help_text="Its serial has to be written in the register first",
        error_messages={"required": "Choose the device.", "invalid_choice": "Choose a device of this build."},
    )
    file_name = forms.CharField(label="Name of the file", max_length=120, error_messages=_NEEDED)
    file_version = forms.CharField(label="Version that the file states", max_length=40, error_messages=_NEEDED)
    file_sha256 = forms.CharField(label="SHA-256 of the file", max_length=200, error_messages=_NEEDED)
    firmware = forms.CharField(label="Firmware that the device states", max_length=40, error_messages=_NEEDED)

    def __init__(self, build: Build, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        field = self.fields["serial"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = build.serials.filter(replaced_by__isnull=True).select_related("part_line")
        field.label_from_instance = _device_words  # type: ignore[method-assign]


class ReadBackForm(forms.Form):
    """What a device held when it was read back."""

    file_sha256 = forms.CharField(label="SHA-256 of what was read back", max_length=200, error_messages=_NEEDED)
