"""Random examples are not timed: a busy machine must not fail a sum."""

from hypothesis import settings

settings.register_profile("sums", deadline=None)
settings.load_profile("sums")
