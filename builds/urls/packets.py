"""The packet of a build and its customer's links, at the desk."""

from django.urls import path

from builds.views import packets

__all__ = ["urlpatterns"]

urlpatterns = [
    path("builds/<str:number>/packet/", packets.packet, name="packet"),
    path("builds/<str:number>/packet/issue/", packets.packet_issue, name="packet-issue"),
    path("builds/<str:number>/packet/<int:issue>/state/", packets.packet_state, name="packet-state"),
    path("builds/<str:number>/packet/<int:issue>/cancel/", packets.packet_cancel, name="packet-cancel"),
    path("builds/<str:number>/packet/<int:issue>/again/", packets.packet_again, name="packet-again"),
    path("builds/<str:number>/packet/links/", packets.link_make, name="link-make"),
    path("builds/<str:number>/packet/links/vehicle/", packets.vehicle_link_make, name="vehicle-link-make"),
    path("builds/<str:number>/packet/links/<uuid:uid>/revoke/", packets.link_revoke, name="link-revoke"),
]
