"""The floor: checklist, clock, photos, registers on a phone, stored files."""

from django.urls import path

from builds.views import checklist, files, floor_registers, photos, time

__all__ = ["urlpatterns"]

urlpatterns = [
    path("builds/<str:number>/checklist/", checklist.checklist, name="checklist"),
    path("builds/<str:number>/checklist/make/", checklist.checklist_make, name="checklist-make"),
    path("builds/<str:number>/checklist/<int:pk>/", checklist.checklist_step, name="checklist-step"),
    path("builds/<str:number>/checklist/<int:pk>/tick/", checklist.step_tick, name="step-tick"),
    path("builds/<str:number>/checklist/<int:pk>/sign/", checklist.hold_sign, name="hold-sign"),
    path("builds/<str:number>/checklist/<int:pk>/photo/", photos.step_photo, name="step-photo"),
    path("builds/<str:number>/floor-registers/", floor_registers.floor_registers, name="floor-registers"),
    path(
        "builds/<str:number>/floor-registers/<slug:register>/",
        floor_registers.floor_register_write,
        name="floor-register-write",
    ),
    path(
        "builds/<str:number>/floor-registers/<slug:register>/<int:pk>/",
        floor_registers.floor_register_amend,
        name="floor-register-amend",
    ),
    path("builds/<str:number>/clock/", time.clock_on, name="clock-on"),
    path("clock/", time.time_list, name="time"),
    path("clock/<int:pk>/off/", time.clock_off, name="clock-off"),
    path("clock/<int:pk>/", time.time_correct, name="time-correct"),
    path("files/<str:sha256>/", files.stored_file, name="stored-file"),
]
