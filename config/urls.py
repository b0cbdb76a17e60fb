"""The addresses of the site."""

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.urls import include, path
from django.views.decorators.http import require_safe


@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """Answer "up" when the database answers. Says nothing else, so anybody may ask."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return HttpResponse("up", content_type="text/plain")


urlpatterns = [
    path("health/", health, name="health"),
    path("", include("builds.urls")),
]

handler400 = "builds.views.responses.answer_unreadable"
handler500 = "builds.views.responses.answer_fault"
