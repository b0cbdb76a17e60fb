"""The desk: sign-in, the job list, a build's sheet and what is edited on it, customers and their rules."""

from django.urls import path
from django.views.generic import RedirectView

from builds.views import builds, sign_in

__all__ = ["urlpatterns"]

urlpatterns = [
    path("", RedirectView.as_view(pattern_name="build-list"), name="home"),
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("builds/", builds.build_list, name="build-list"),
    path("builds/open/", builds.build_list, name="build-open"),
    path("builds/<str:number>/", builds.build_list, name="build-detail"),
]
