"""The JSON API."""

from django.urls import path

from builds.api.views import builds, design_rows, functions, ticks

__all__ = ["urlpatterns"]

urlpatterns = [
    path("api/builds/", builds.BuildList.as_view(), name="api-build-list"),
    path("api/builds/<str:number>/", builds.BuildDetail.as_view(), name="api-build-detail"),
    path("api/builds/<str:number>/document/", builds.BuildDocument.as_view(), name="api-build-document"),
    path("api/builds/<str:number>/assessment/", builds.BuildAssessment.as_view(), name="api-build-assessment"),
    path("api/builds/<str:number>/functions/", functions.BuildFunctions.as_view(), name="api-build-functions"),
    path("api/builds/<str:number>/undo/", design_rows.UndoLast.as_view(), name="api-undo-last"),
    path("api/builds/<str:number>/rows/<str:family>/", design_rows.DesignRows.as_view(), name="api-design-rows"),
    path(
        "api/builds/<str:number>/rows/<str:family>/<path:key>/", design_rows.DesignRow.as_view(), name="api-design-row"
    ),
    path("api/steps/<int:pk>/ticks/", ticks.StepTicks.as_view(), name="api-step-ticks"),
]
