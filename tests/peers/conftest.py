"""How properties are tried: the same examples in every run, and no limit on the time of one on a busy machine."""

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")
