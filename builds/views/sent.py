"""What was sent with a form; an empty form that was sent is told what is missing, one that was not sent is only shown."""

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, QueryDict
from django.utils.datastructures import MultiValueDict

__all__ = ["sent_files", "sent_values"]


def sent_values(request: HttpRequest) -> QueryDict | None:
    """Return the values that were sent, ``None`` where the page is only looked at."""
    return request.POST if request.method == "POST" else None


def sent_files(request: HttpRequest) -> MultiValueDict[str, UploadedFile] | None:
    """Return the files that were sent, ``None`` where the page is only looked at."""
    return request.FILES if request.method == "POST" else None
