"""The addresses of the site: each app brings its own."""

from importlib.util import find_spec

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("admin/", admin.site.urls),
    path("", include("builds.urls")),
]
if find_spec("inventory.urls") is not None:
    urlpatterns.append(path("stores/", include("inventory.urls")))
