"""What was done, by whom, where from."""

from typing import Any

from django.db import models


class EventQuerySet(models.QuerySet["Event"]):
    """What was done, newest first where it is shown."""

    def newest_first(self) -> "EventQuerySet":
        """Return them in the order they are read, with who and where."""
        return self.select_related("user", "workshop").order_by("-at", "-pk")

    def of_user(self, user: Any) -> "EventQuerySet":
        """What one person did, or somebody tried in her name."""
        return self.filter(user=user)

    def of(self, workshop: Any) -> "EventQuerySet":
        """What was done in a workshop, and the sign-ins of those who belong to it."""
        people = workshop.memberships.values("user")
        return self.filter(
            models.Q(workshop=workshop)
            | models.Q(workshop=None, user__in=people, kind__in=Event.SIGN_IN_KINDS)
        )


class Event(models.Model):
    """One thing that was done. Rows are only added, and taken away when they are old."""

    class Kind(models.TextChoices):
        SIGNED_IN = "signed_in", "Signed in"
        REFUSED = "refused", "Sign-in refused"
        SIGNED_OUT = "signed_out", "Signed out"
        OTHERS_OUT = "others_out", "Signed out other browsers"
        PASSWORD = "password", "Changed the password"
        SECOND_STEP = "second_step", "Changed the second step"
        PERSON_ADDED = "person_added", "Added a person"
        ROLE = "role", "Changed a role"
        PERSON_REMOVED = "person_removed", "Removed a person"
        EXPORTED = "exported", "Exported a file"
        IMPORTED = "imported", "Imported a file"
        BACKED_UP = "backed_up", "Made a backup"
        RESTORED = "restored", "Restored a backup"
        DELETION = "deletion", "Asked for a deletion, or undid it"
        INSTALLATION = "installation", "Changed the installation"
        CUSTOMER = "customer", "Customer’s link"

    SIGN_IN_KINDS = (
        Kind.SIGNED_IN,
        Kind.REFUSED,
        Kind.SIGNED_OUT,
        Kind.OTHERS_OUT,
        Kind.PASSWORD,
        Kind.SECOND_STEP,
    )

    at = models.DateTimeField()
    kind = models.CharField(max_length=20, choices=Kind)
    user = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, related_name="events"
    )
    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.SET_NULL, null=True, related_name="events"
    )
    address = models.CharField(max_length=64, blank=True)
    about = models.CharField(max_length=200, blank=True)

    objects = EventQuerySet.as_manager()

    class Meta:
        indexes = (
            models.Index(fields=["at", "kind"], name="events_by_age"),
            models.Index(fields=["workshop", "-at"], name="events_of_a_workshop"),
            models.Index(fields=["user", "-at"], name="events_of_a_person"),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.about}"
