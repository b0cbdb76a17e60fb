"""The bays and the yard."""

from django.urls import path

from builds.views import bays, yard

__all__ = ["urlpatterns"]

urlpatterns = [
    path("bays/", bays.board, name="bay-board"),
    path("bays/book/", bays.booking_new, name="booking-new"),
    path("bays/bookings/<int:pk>/", bays.booking_move, name="booking"),
    path("bays/bookings/<int:pk>/shift/", bays.booking_shift, name="booking-shift"),
    path("bays/bookings/<int:pk>/swap/", bays.booking_swap, name="booking-swap"),
    path("bays/bookings/<int:pk>/cancel/", bays.booking_cancel, name="booking-cancel"),
    path("yard/", yard.yard, name="yard"),
    path("yard/<str:number>/", yard.yard_vehicle, name="yard-vehicle"),
    path("yard/<str:number>/move/", yard.vehicle_move, name="vehicle-move"),
    path("yard/<str:number>/keys/", yard.keys_hand, name="keys-hand"),
    path("yard/<str:number>/check-in/", yard.check_in, name="check-in"),
]
