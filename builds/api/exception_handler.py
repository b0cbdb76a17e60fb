"""Errors as answers of the API: code, message, fields; the one place where they are put in JSON."""

from typing import Any

from django.core.exceptions import SuspiciousOperation
from rest_framework.exceptions import APIException, NotAuthenticated, ParseError, ValidationError
from rest_framework.response import Response
from rest_framework.views import exception_handler

from builds.engineering.functions.faults import LanguageFault
from builds.errors import BuildError, StaleRow
from builds.services.function_schedules import ScheduleRefused
from builds.services.refusals import no_room, unkeepable_text

__all__ = ["handle_exception"]


def handle_exception(error: Exception, context: dict[str, Any]) -> Response | None:
    """Return the answer for an error that the API knows, ``None`` for one that is a fault of the program."""
    error = unkeepable_text(error) or no_room(error) or error
    if isinstance(error, RecursionError):
        error = ParseError("The body is nested deeper than anything here is.")
    if isinstance(error, BuildError):
        body: dict[str, Any] = {"code": error.code, "message": error.message, "fields": error.fields}
        if isinstance(error, StaleRow):
            body["row_version"] = error.row_version
            body["conflicts"] = [
                {"field": item.field, "yours": item.yours, "theirs": item.theirs} for item in error.conflicts
            ]
        if isinstance(error, ScheduleRefused):
            body["faults"] = [_fault(fault) for fault in error.faults]
        return Response(body, status=error.status)
    if isinstance(error, SuspiciousOperation):
        error = ParseError("The body is too large, or broken on its way.")
    response = exception_handler(error, context)
    if response is not None:
        response.data = _body(error, response.data)
    return response


def _fault(fault: LanguageFault) -> dict[str, Any]:
    """A fault in the text of a schedule; line and column count from 1, in the text as it would have been kept."""
    place = {"line": fault.place.line, "column": fault.place.column}
    return {"name": fault.name, **place, "subject": fault.subject, "message": fault.message, "expected": fault.expected}


def _body(error: Exception, data: Any) -> dict[str, Any]:
    if isinstance(error, ValidationError):
        fields = {name: " ".join(map(str, words)) for name, words in data.items()} if isinstance(data, dict) else {}
        return {"code": "bad-input", "message": " ".join(fields.values()) or str(data), "fields": fields}
    code = "sign-in" if isinstance(error, NotAuthenticated) else getattr(error, "default_code", "not-here")
    message = str(error.detail) if isinstance(error, APIException) else "There is no such thing."
    return {"code": code, "message": message, "fields": {}}
