"""The secret address of a workshop's calendar feed."""

import hashlib
import secrets

from django.db import models

from maker.workshop.models import Workshop


def hash_of(token: str) -> str:
    """Return what is kept of a secret: who reads the database cannot read the calendar by it."""
    return hashlib.sha256(token.encode()).hexdigest()


class CalendarFeedQuerySet(models.QuerySet["CalendarFeed"]):
    """Feeds of calendars."""

    def by_token(self, token: str) -> "CalendarFeed | None":
        """Return the feed of a secret, None where there is none."""
        return self.select_related("workshop").filter(token_hash=hash_of(token)).first()


class CalendarFeed(models.Model):
    """A workshop's feed: whoever has its address reads the calendar without signing in."""

    workshop = models.OneToOneField(
        "maker.Workshop", on_delete=models.CASCADE, related_name="calendar_feed"
    )
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(auto_now=True)

    objects = CalendarFeedQuerySet.as_manager()

    def __str__(self) -> str:
        return f"calendar of {self.workshop_id}"


def renew_feed(workshop: Workshop) -> str:
    """Give the calendar a new secret address and return the secret; the old one ends."""
    token = secrets.token_urlsafe(32)
    CalendarFeed.objects.update_or_create(
        workshop=workshop, defaults={"token_hash": hash_of(token)}
    )
    return token


def end_feed(workshop: Workshop) -> bool:
    """End the feed; return whether there was one."""
    deleted, _ = CalendarFeed.objects.filter(workshop=workshop).delete()
    return bool(deleted)
