"""Builds: the list, one build, its document and its assessment."""

from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from builds.api.lookup import find_build
from builds.engineering.document.canonical import canonical_text
from builds.management.assessment_report import assessment_values
from builds.models import Build
from builds.permissions import Action, check_may
from builds.selectors.build_list import BuildFilter, list_builds
from builds.selectors.engineering_inputs import design_of
from builds.services.assessments import assess_build
from builds.services.build_documents import import_build

__all__ = ["BuildAssessment", "BuildDetail", "BuildDocument", "BuildList"]


class BuildList(APIView):
    """The builds that fit ``?q=``, worst first; a document sent here opens a build."""

    def get(self, request: Request) -> Response:
        who = check_may(request.user, Action.SEE_BUILDS)
        page = request.query_params.get("page", "1")
        wanted = BuildFilter(
            words=request.query_params.get("q", "")[:80], page=int(page) if page.isdecimal() and len(page) < 7 else 1
        )
        found = list_builds(wanted=wanted, person=who, at=timezone.now())
        numbers = [row.number for row in found.rows]
        return Response({"builds": numbers, "page": found.page, "more": found.more})

    def post(self, request: Request) -> Response:
        who = check_may(request.user, Action.OPEN_BUILD)
        number = request.query_params.get("number") or None
        build = import_build(text=request._request.body, by=who, at=timezone.now(), number=number)
        return Response(_summary(build), status=201)


class BuildDetail(APIView):
    """One build as it stands."""

    def get(self, request: Request, number: str) -> Response:
        check_may(request.user, Action.SEE_BUILDS)
        build = find_build(number)
        return Response(_summary(build), headers={"ETag": _tag(build)})


class BuildDocument(APIView):
    """The working design as a build document."""

    def get(self, request: Request, number: str) -> HttpResponse:
        check_may(request.user, Action.SEE_BUILDS)
        build = find_build(number)
        if request.headers.get("If-None-Match") == _tag(build):
            return HttpResponse(status=304)
        text = canonical_text(design_of(build))
        return HttpResponse(text, content_type="application/json", headers={"ETag": _tag(build)})


class BuildAssessment(APIView):
    """What the core says of the working design."""

    def get(self, request: Request, number: str) -> HttpResponse:
        check_may(request.user, Action.SEE_BUILDS)
        build = find_build(number)
        if request.headers.get("If-None-Match") == _tag(build):
            return HttpResponse(status=304)
        return Response(assessment_values(assess_build(build)), headers={"ETag": _tag(build)})


def _summary(build: Build) -> dict[str, Any]:
    return {
        "number": build.number,
        "title": build.title,
        "customer": build.customer.name,
        "unit_number": build.vehicle.unit_number,
        "vin": build.vehicle.vin,
        "stage": build.stage,
        "hold_reason": build.hold_reason,
        "promised_on": build.promised_on,
        "design_version": build.design_version,
        "blocking_count": build.blocking_count,
        "caution_count": build.caution_count,
        "step_count": build.step_count,
        "step_done_count": build.step_done_count,
    }


def _tag(build: Build) -> str:
    return f'"{build.number}.{build.design_version}"'
