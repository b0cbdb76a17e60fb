"""A new platform version as a person types it: figures in fields, each list as lines with semicolons."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms

from builds.engineering import design as core
from builds.engineering.document.shape import FieldShape, Kind, shape_of
from builds.engineering.vocabulary import UnitSystem
from builds.forms.fields import CountField, FigureField, MassField

__all__ = ["LISTS", "PlatformForm"]

_NEEDED = {"required": "This may not stay empty."}


@dataclass(frozen=True, slots=True)
class _List:
    """A list of the platform: its dataclass, its label, and the words for the columns of a line."""

    part: type[Any]
    label: str
    columns: str


LISTS: dict[str, _List] = {
    "zones": _List(core.Zone, "Zones", "key; name; hottest °C; mm behind front axle; mm right of centre; most load kg; inside yes/no"),
    "routes": _List(core.Route, "Routes between zones", "from zone; to zone; length m"),
    "no_mount_zones": _List(core.NoMountZone, "Places where nothing is mounted", "zone; what is there; guide to consult"),
    "access_points": _List(
        core.AccessPoint, "The maker's access points",
        "key; name; zone; most A; function; polarity; hot when; maker's fuse A; group; most A of the group; guide; "
        "most A for a moment; fed from node; fuse family; gauge; length m; mΩ of the maker's way",
    ),
    "seat_places": _List(core.SeatPlace, "Seats", "where; how many; mm behind front axle; mm right of centre"),
}  # fmt: skip


class LinesField(forms.CharField):
    """A list as lines, a semicolon between columns; a column left empty is not known."""

    def __init__(self, kind: _List) -> None:
        super().__init__(
            label=kind.label, required=False, max_length=40_000, help_text=f"One a line: {kind.columns}",
            widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false", "wrap": "off"}),
        )  # fmt: skip
        self.shapes = shape_of(kind.part)

    def prepare_value(self, value: Any) -> Any:
        """Show parts as lines; what a person typed comes back as typed."""
        return "\n".join(map(self._line, value)) if isinstance(value, tuple) else value

    def _line(self, part: Any) -> str:
        return "; ".join(_shown(getattr(part, shape.name)) for shape in self.shapes).rstrip("; ")

    def clean(self, value: Any) -> list[dict[str, Any]]:
        """Return each line as the document's values. Raises ValidationError at the first line that cannot be read."""
        lines = str(super().clean(value) or "").splitlines()
        return [self._read(number, line) for number, line in enumerate(lines, start=1) if line.strip()]

    def _read(self, number: int, line: str) -> dict[str, Any]:
        cells = [cell.strip() for cell in line.split(";")]
        if len(cells) > len(self.shapes):
            raise forms.ValidationError(f"Line {number} has {len(cells)} columns; there are {len(self.shapes)}.")
        return {
            shape.name: _value(number, shape, cell) for shape, cell in zip(self.shapes, cells, strict=False) if cell
        }


def _shown(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _value(number: int, shape: FieldShape, cell: str) -> Any:
    if shape.kind is Kind.FLAG:
        if cell.lower() not in ("yes", "no"):
            raise forms.ValidationError(f"Line {number}: write yes or no instead of {cell!r}.")
        return cell.lower() == "yes"
    if shape.kind in (Kind.NUMBER, Kind.COUNT):
        try:
            figure = Decimal(cell)
        except InvalidOperation:
            raise forms.ValidationError(f"Line {number}: {cell!r} is not a number.") from None
        whole = figure.is_finite() and figure == figure.to_integral_value()
        return int(figure) if whole and abs(figure) < 10**12 else figure
    return cell


class PlatformForm(forms.Form):
    """Figures and lists of a new version, started from those of another."""

    FIGURES = ("wheelbase_mm", "gvwr_kg", "gawr_front_kg", "gawr_rear_kg", "curb_front_kg", "curb_rear_kg", "seats")
    STARTING = ("crank_a", "crank_least_v", "crank_cable_mohm")  # each may stay empty: it is then not known

    name = forms.CharField(label="Platform", max_length=120, error_messages=_NEEDED)
    version = forms.CharField(
        label="Version",
        max_length=60,
        error_messages=_NEEDED,
        help_text="Model years and what tells it apart: 2027, long wheelbase",
    )

    def __init__(self, source: core.Platform, units: UnitSystem, data: Mapping[str, Any] | None = None) -> None:
        initial = {name: Decimal(repr(getattr(source, name))) for name in self.FIGURES}
        initial |= {
            name: Decimal(repr(known)) for name in self.STARTING if (known := getattr(source, name)) is not None
        }
        lists = {name: getattr(source, name) for name in LISTS}
        super().__init__(data, initial={"name": source.name} | initial | lists)
        self.fields["wheelbase_mm"] = FigureField(label="Wheelbase", decimals=1, least=500, most=20_000, unit="mm")
        for name, label in (
            ("gvwr_kg", "GVWR"), ("gawr_front_kg", "GAWR front"), ("gawr_rear_kg", "GAWR rear"),
            ("curb_front_kg", "Curb weight on the front axle"), ("curb_rear_kg", "Curb weight on the rear axle"),
        ):  # fmt: skip
            self.fields[name] = MassField(units, label=label, least=1, most=100_000)
        self.fields["seats"] = CountField(label="Seats", least=1, most=100)
        for name, label, decimals, least, most, unit in (
            ("crank_a", "Starter takes", 3, 0.1, 5000, "A"),
            ("crank_least_v", "Starting system works from", 3, 0.1, 60, "V"),
            ("crank_cable_mohm", "Cable from battery to starter and back", 4, 0, 1000, "mΩ"),
        ):
            self.fields[name] = FigureField(
                label=label, decimals=decimals, least=least, most=most, unit=unit, required=False
            )
        for name, kind in LISTS.items():
            self.fields[name] = LinesField(kind)

    def values(self) -> dict[str, Any]:
        """Return what the service takes; a figure that nobody touched stays exactly the source's."""
        typed = {name: self.cleaned_data[name] for name in ("name", "version")}
        figures = {name: self.cleaned_data[name] for name in (*self.FIGURES, *self.STARTING) if self._touched(name)}
        return typed | figures | {name: self.cleaned_data[name] for name in LISTS if self._touched(name)}

    def _touched(self, name: str) -> bool:
        field = self.fields[name]
        was = "\n".join(str(field.prepare_value(self.initial.get(name)) or "").splitlines())
        return "\n".join(str(self.data.get(name, "")).splitlines()).strip() != was.strip()
