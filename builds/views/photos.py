"""Photos taken at a step."""

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from builds.errors import BuildError
from builds.forms.floor import PhotoForm
from builds.models import Photo
from builds.permissions import Action
from builds.services.photos import LARGEST_BYTES, add_photo
from builds.views.acting import person_who_may
from builds.views.checklist import floor_context, found_step
from builds.views.responses import add_errors
from builds.views.shop_clock import render_on_shop_clock

__all__ = ["step_photo"]


@require_POST
def step_photo(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Keep a photo of a step; what cannot be kept is said on a page of its own, beside another try."""
    person = person_who_may(request, Action.ADD_PHOTO)
    step = found_step(number, pk)
    form = PhotoForm(request.POST, request.FILES)
    status = 422
    if form.is_valid():
        try:
            add_photo(
                build=step.build, step=step, kind=Photo.Kind.STEP, content=content_of(form.cleaned_data["photo"]),
                event_id=form.cleaned_data["event_id"], caption=form.cleaned_data["caption"] or step.title, by=person,
                at=timezone.now(),
            )  # fmt: skip
        except BuildError as error:
            add_errors(form, error)
            status = error.status
        else:
            return redirect("checklist-step", number=step.build.number, pk=step.pk)
    context = floor_context(request, step.build) | {"step": step, "photo_form": form}
    return render_on_shop_clock(request, "builds/step_photo.html", context, status=status)


def content_of(upload: UploadedFile) -> bytes:
    """Return what was sent, never more than one byte over what is kept, so that a huge file fills no memory."""
    return bytes(upload.read(LARGEST_BYTES + 1))
