"""The function schedule of a working design: its text read, kept as a whole, or changed one statement at a time."""

from typing import Any

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from builds.api.lookup import find_build
from builds.api.parsers import ExactJSONParser
from builds.errors import BadInput
from builds.models import Build
from builds.permissions import Action, check_may
from builds.services.function_rows import schedule_row
from builds.services.function_schedules import edit_statement, replace_schedule

__all__ = ["BuildFunctions"]


class BuildFunctions(APIView):
    """``GET`` reads the text with its version; ``PUT`` keeps another text, ``PATCH`` one statement of it."""

    parser_classes = (ExactJSONParser,)

    def get(self, request: Request, number: str) -> Response:
        check_may(request.user, Action.SEE_BUILDS)
        return Response(_as_kept(find_build(number)))

    def put(self, request: Request, number: str) -> Response:
        who = check_may(request.user, Action.EDIT_DESIGN)
        build, body = find_build(number), _body(request)
        replace_schedule(
            build=build, text=_text(body, "text"), row_version=_version(body), by=who, at=timezone.now()
        )  # fmt: skip
        return Response(_as_kept(build))

    def patch(self, request: Request, number: str) -> Response:
        who = check_may(request.user, Action.EDIT_DESIGN)
        build, body = find_build(number), _body(request)
        subject, statement = _text(body, "subject"), _text(body, "statement")
        if not subject and not statement.strip():
            raise BadInput({"statement": "Send the statement to add, or the subject of one to change or take out."})
        edit_statement(
            build=build, subject=subject, statement=statement, row_version=_version(body), by=who, at=timezone.now()
        )
        return Response(_as_kept(build))


def _as_kept(build: Build) -> dict[str, Any]:
    row = schedule_row(build)
    return {
        "design_version": build.design_version,
        "row_version": row.row_version if row else 0,
        "text": row.text if row else "",
    }


def _body(request: Request) -> dict[str, Any]:
    """The parser has seen to it that a body is an object."""
    return request.data if isinstance(request.data, dict) else {}


def _text(body: dict[str, Any], name: str) -> str:
    value = body.get(name)
    if not isinstance(value, str):
        raise BadInput({name: "Send it as a text; an empty one where there is none."})
    return value


def _version(body: dict[str, Any]) -> int:
    value = body.get("row_version")
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise BadInput(
            {"row_version": "Send the row_version that you saw, a whole number; 0 where there was no schedule."}
        )
    return value
