"""Who works in the shop."""

from django.urls import path

from builds.views import people

__all__ = ["urlpatterns"]

urlpatterns = [
    path("people/", people.people, name="people"),
    path("people/add/", people.person_add, name="person-add"),
    path("people/<int:pk>/active/", people.person_active, name="person-active"),
    path("people/<int:pk>/password/", people.person_password, name="person-password"),
]
