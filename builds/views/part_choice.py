"""The parts catalogue beside a line of the parts bill: what fits what is typed, and what is known of a number."""

from django.http import HttpResponse, JsonResponse
from django.views.decorators.http import require_GET

from builds.forms.design_rows import unkept_texts
from builds.forms.row_choices import choices_of
from builds.permissions import Action, check_may
from builds.selectors.build_sheet import build_named
from builds.selectors.figure_words import Measures
from builds.selectors.kept_designs import working_design
from builds.views.requests import ShopRequest
from inventory.selectors.catalogue import catalogue_values, offered_parts

__all__ = ["part_choice"]

_LONGEST_NUMBER = 60


@require_GET
def part_choice(request: ShopRequest, number: str) -> HttpResponse:
    """
    Answer what was typed as a part number.

    ``offers`` are a few parts to choose from, ``fields`` what the catalogue knows of exactly this number, as the fields of
    the row show it (empty for a new one), ``words`` what to say of it.
    """
    check_may(request.user, Action.EDIT_DESIGN)
    design = working_design(build_named(number))
    typed = request.GET.get("q", "").strip().replace("\x00", "")[:_LONGEST_NUMBER]
    values = catalogue_values(typed) if typed else {}
    measures = Measures(design.conventions.units, design.conventions.gauge_basis)
    answer = {
        "offers": [[part.number, part.description] for part in offered_parts(typed)] if typed else [],
        "fields": unkept_texts("part", choices_of(design), values),
        "words": _words(typed, values, measures),
        "known": bool(values),
    }
    return JsonResponse(answer)


def _words(typed: str, values: dict[str, object], measures: Measures) -> str:
    if not typed:
        return ""
    if not values:
        return "New to the catalogue: nobody has written this number down. Keeping the line puts it in as you type it here."
    price = f"{values['unit_price']:,.2f} each" if "unit_price" in values else "no price yet"
    mass = (
        f"{measures.mass_words(float(str(values['mass_kg'])))} {measures.mass_unit}"
        if "mass_kg" in values
        else "no mass yet"
    )
    return f"In the catalogue: {values['description']}, {price}, {mass}."
