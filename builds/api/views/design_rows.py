"""Rows of a working design: added, changed and removed as on the sheet."""

from typing import Any

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from builds.api.lookup import find_build
from builds.api.parsers import ExactJSONParser
from builds.errors import BadInput, NotHere
from builds.models import Build, EditBatch
from builds.permissions import Action, check_may
from builds.services import design_edits
from builds.services.design_rows import FAMILIES
from builds.services.design_values import values_of_row

__all__ = ["DesignRow", "DesignRows", "UndoLast"]


class DesignRows(APIView):
    """``POST {"values": {…}}`` adds a row of a family."""

    parser_classes = (ExactJSONParser,)

    def post(self, request: Request, number: str, family: str) -> Response:
        who = check_may(request.user, Action.EDIT_DESIGN)
        values = _object(_body(request), "values")
        batch = design_edits.add_row(build=find_build(number), family=family, values=values, by=who, at=timezone.now())
        return Response(_edited(batch), status=201)


class DesignRow(APIView):
    """``GET`` reads a row with its version; ``PATCH`` and ``DELETE`` send the version they saw."""

    parser_classes = (ExactJSONParser,)

    def get(self, request: Request, number: str, family: str, key: str) -> Response:
        check_may(request.user, Action.SEE_BUILDS)
        row = _row(find_build(number), family, key)
        return Response({"row_version": row.row_version, "values": values_of_row(FAMILIES[family], row)})

    def patch(self, request: Request, number: str, family: str, key: str) -> Response:
        who = check_may(request.user, Action.EDIT_DESIGN)
        build, values = find_build(number), _object(_body(request), "values")
        batch = design_edits.edit_row(
            build=build, family=family, key=key, values=values,
            row_version=_version(_body(request).get("row_version")), by=who, at=timezone.now(),
        )  # fmt: skip
        row = _row(build, family, str(values.get(FAMILIES[family].key_field) or key))
        meanwhile = [{"field": item.field, "was": item.was, "now": item.now, "by": item.by} for item in batch.meanwhile]
        merged = {
            "row_version": row.row_version,
            "values": values_of_row(FAMILIES[family], row),
            "meanwhile": meanwhile,
        }
        return Response(_edited(batch) | merged)

    def delete(self, request: Request, number: str, family: str, key: str) -> Response:
        who = check_may(request.user, Action.EDIT_DESIGN)
        version = request.query_params.get("row_version", "")
        batch = design_edits.remove_row(
            build=find_build(number), family=family, key=key, by=who, at=timezone.now(),
            row_version=_version(int(version) if version.isdecimal() else None),
        )  # fmt: skip
        return Response(_edited(batch))


class UndoLast(APIView):
    """``POST`` plays the newest edit backwards: one of your own, or the one whose design version is sent as ``edit``."""

    parser_classes = (ExactJSONParser,)

    def post(self, request: Request, number: str) -> Response:
        who = check_may(request.user, Action.EDIT_DESIGN)
        edit = _body(request).get("edit")
        if edit is not None and (not isinstance(edit, int) or isinstance(edit, bool)):
            raise BadInput({"edit": "Send the design version of the edit, a whole number."})
        batch = design_edits.undo_last(build=find_build(number), by=who, at=timezone.now(), named=edit)
        return Response(_edited(batch))


def _body(request: Request) -> dict[str, Any]:
    """The parser has seen to it that a body is an object."""
    return request.data if isinstance(request.data, dict) else {}


def _edited(batch: EditBatch) -> dict[str, Any]:
    return {"design_version": batch.design_version, "words": batch.words}


def _object(body: dict[str, Any], name: str) -> dict[str, Any]:
    value = body.get(name)
    if not isinstance(value, dict) or not value:
        raise BadInput({name: "Send the fields and their values as an object in braces."})
    return value


def _version(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 1:
        raise BadInput({"row_version": "Send the row_version that you saw, a whole number."})
    return value


def _row(build: Build, family: str, key: str) -> Any:
    if family not in FAMILIES:
        raise NotHere(f"There is no kind of row called {family!r}.")
    row = FAMILIES[family].rows(build).filter(**{FAMILIES[family].key_field: key}).first()
    if row is None:
        raise NotHere(f"Build {build.number} has no {family} {key}.")
    return row
