"""Whether vehicle, parts and gear of a build have come together, kept beside it for lists of many builds."""

from django.db import models

__all__ = ["BuildMatch"]


class BuildMatch(models.Model):
    """
    The three matches of one build, written only by triggers on what they follow from; null where nothing is needed.

    :mod:`builds.selectors.match` says the same with the reasons; a test holds the two together.
    """

    build = models.OneToOneField("builds.Build", on_delete=models.CASCADE, primary_key=True, related_name="match")
    vehicle_here = models.BooleanField(default=False)
    parts_here = models.BooleanField(null=True)
    gear_here = models.BooleanField(null=True)

    def __str__(self) -> str:
        return f"match of {self.build}"
