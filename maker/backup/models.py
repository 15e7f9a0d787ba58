"""What the installation knows of itself: its version and when it was copied last."""

from typing import Any

from django.db import models
from django.utils.crypto import get_random_string

THE_ONE = 1


def new_key() -> str:
    """Return a name for an installation that no other has."""
    return get_random_string(8, "abcdefghjkmnpqrstuvwxyz23456789")


class InstallationQuerySet(models.QuerySet["Installation"]):
    """The one row there is."""

    def the_one(self) -> "Installation":
        """Return it by one query; where it was never stored, a new one that is not either."""
        return self.filter(pk=THE_ONE).first() or Installation(pk=THE_ONE)

    def kept_one(self) -> "Installation":
        """Return it, stored when it was not."""
        return self.get_or_create(pk=THE_ONE)[0]

    def note(self, **values: Any) -> None:
        """Store these values in it."""
        self.update_or_create(pk=THE_ONE, defaults=values)


class Installation(models.Model):
    """One row for the whole installation."""

    # names its folder among the copies of others
    key = models.CharField(max_length=8, default=new_key)
    # the version that was started last, and when it took the place of an older one
    version = models.CharField(max_length=20, blank=True)
    updated_at = models.DateTimeField(null=True, blank=True)
    # the newest copy that was read back whole: here and in the second folder
    copied_at = models.DateTimeField(null=True, blank=True)
    copied_twice_at = models.DateTimeField(null=True, blank=True)
    # why the last try failed, empty when it did not
    copy_problem = models.CharField(max_length=400, blank=True)
    second_problem = models.CharField(max_length=400, blank=True)
    # when a worker last asked for the daily copy
    asked_at = models.DateTimeField(null=True, blank=True)
    installed_at = models.DateTimeField(auto_now_add=True)

    objects = InstallationQuerySet.as_manager()

    class Meta:
        constraints = (models.CheckConstraint(condition=models.Q(pk=THE_ONE), name="one_row"),)

    def __str__(self) -> str:
        return self.key
