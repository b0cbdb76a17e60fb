"""The addresses of the site: each app brings its own."""

from importlib.util import find_spec

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("admin/", admin.site.urls),
    *(
        path("", include(f"{app}.urls"))
        for app in ("inventory", "builds")
        if find_spec(f"{app}.urls")
    ),
]
