"""Pages that open without an account: the customer's link and the vehicle's."""

from django.urls import path

from builds.views import link_lights, links

__all__ = ["urlpatterns"]

urlpatterns = [
    path("l/<str:token>/", links.customer_home, name="customer-home"),
    path("l/<str:token>/quote/", links.customer_quote, name="customer-quote"),
    path("l/<str:token>/lights/", link_lights.customer_lights, name="customer-lights"),
    path("l/<str:token>/packet/", links.customer_packet, name="customer-packet"),
    path("l/<str:token>/packet/<int:issue>.pdf", links.customer_packet_file, name="customer-packet-file"),
    path("v/<str:token>/", links.vehicle_record, name="vehicle-record"),
]
