"""Ticks as a device sends them: each with an id of its own, so that it arrives once."""

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.utils import timezone
from django.utils.dateparse import parse_datetime
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from builds.api.parsers import ExactJSONParser
from builds.errors import BadInput, NotHere
from builds.models import ChecklistStep, StepResult
from builds.permissions import Action, check_may
from builds.services import ticks

__all__ = ["StepTicks"]


class StepTicks(APIView):
    """``POST {"event_id": …, "result": "pass", "reading": 0.06, "at": …}`` to a step."""

    parser_classes = (ExactJSONParser,)

    def post(self, request: Request, pk: int) -> Response:
        who = check_may(request.user, Action.TICK_STEP)
        step = ChecklistStep.objects.select_related("build").filter(pk=pk).first()
        if step is None:
            raise NotHere("There is no such step.")
        told = _told(request.data if isinstance(request.data, dict) else {})
        tick = ticks.record(step=step, by=who, received_at=timezone.now(), **told)
        return Response({"event_id": tick.event_id, "result": tick.result, "received_at": tick.received_at}, status=201)


def _told(body: dict[str, Any]) -> dict[str, Any]:
    fields: dict[str, str] = {}
    values: dict[str, Any] = {}
    for name, read in _READ.items():
        try:
            values[name] = read(body.get(name))
        except (ValueError, TypeError, ArithmeticError):
            fields[name] = _WORDS[name]
    if fields:
        raise BadInput(fields)
    found = ticks.Outcome(
        **{name: values.pop(name) for name in ("result", "reading", "reading_at_v", "instrument", "remark")}
    )
    return {"found": found, **values}


def _number(value: Any) -> Decimal | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise TypeError
    return Decimal(value)


def _text(value: Any) -> str:
    if value is not None and not isinstance(value, str):
        raise TypeError
    return value or ""


def _moment(value: Any) -> datetime:
    moment = parse_datetime(value) if isinstance(value, str) else None
    if moment is None or moment.tzinfo is None:
        raise ValueError
    return moment


def _sequence(value: Any) -> int | None:
    if value is not None and (isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < 2**63):
        raise ValueError
    return value


_READ: dict[str, Callable[[Any], Any]] = {
    "event_id": lambda value: UUID(_text(value)),
    "at": _moment,
    "result": StepResult,
    "reading": _number,
    "reading_at_v": _number,
    "instrument": _text,
    "remark": _text,
    "device": _text,
    "device_sequence": _sequence,
}
_WORDS = {
    "event_id": "Send an id made by the device, a UUID.",
    "at": "Send when it was done, with its time zone: 2026-12-09T10:40:00Z.",
    "result": "Send pass, defective or not_applicable.",
    "reading": "Send a number, or leave it out.",
    "reading_at_v": "Send a number of volts, or leave it out.",
    "instrument": "Send the instrument's tag as text.",
    "remark": "Send the remark as text.",
    "device": "Send the device's name as text.",
    "device_sequence": "Send the device's running number, a whole number.",
}
