"""People and their place in a workshop."""

from datetime import datetime, timedelta
from importlib import import_module
from typing import Any, ClassVar

from django.conf import settings
from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.contrib.sessions.backends.base import SessionBase
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models
from django.db.models.functions import Lower

SECOND_STEP_GRACE = timedelta(days=7)


class UserManager(BaseUserManager["User"]):
    """Creates users by e-mail address."""

    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "User":
        """Create a person who signs in with this address."""
        # the first person of an installation is the one who set it up
        fields.setdefault("looks_after_installation", not self.exists())
        user = self.model(email=self.normalize_email(email).lower(), **fields)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, username: str | None) -> "User":
        """Find a person by address, however it was capitalised."""
        return self.get(email=(username or "").strip().lower())


class User(AbstractBaseUser):
    """A person; signs in by e-mail. What she may do is said by her memberships."""

    class StaySignedIn(models.IntegerChoices):
        BROWSER = 0, "Until the browser is closed, at most a day"
        DAY = 1, "1 day after the last visit"
        TWO_WEEKS = 14, "2 weeks after the last visit"
        THREE_MONTHS = 90, "3 months after the last visit"

    email = models.EmailField(max_length=254, unique=True)
    name = models.CharField(max_length=120, blank=True)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(auto_now_add=True)
    # may set up mail, copies and all that is of no single workshop
    looks_after_installation = models.BooleanField(default=False)
    # asked for by herself: the account goes at the first look after this moment
    delete_after = models.DateTimeField(null=True, blank=True)
    # the version whose news she has closed
    seen_version = models.CharField(max_length=20, blank=True)
    stay_signed_in_days = models.PositiveSmallIntegerField(
        choices=StaySignedIn, default=StaySignedIn.TWO_WEEKS
    )

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = []
    objects = UserManager()

    class Meta:
        constraints = (models.UniqueConstraint(Lower("email"), name="user_email_any_case"),)

    def __str__(self) -> str:
        return self.name or self.email

    def owes_second_step(self, since: datetime, now: datetime) -> bool:
        """Whether a workshop that asks for a second step since then stays closed. Up to 2 queries.

        It does from her next sign-in, and after a week also where she never signed out.
        """
        signed_in = self.last_login
        is_due = signed_in is None or signed_in > since or now - since > SECOND_STEP_GRACE
        return is_due and not (
            CodeApp.objects.filter(user=self).exists() or Passkey.objects.filter(user=self).exists()
        )


class MembershipQuerySet(models.QuerySet["Membership"]):
    """Who belongs where."""

    def of_user(self, user: Any) -> "MembershipQuerySet":
        """Memberships of one person, with their workshops, by name."""
        return (
            self.filter(user=user)
            .select_related("workshop")
            .order_by("workshop__is_demo", "workshop__name", "pk")
        )

    def of(self, workshop: Any) -> "MembershipQuerySet":
        """Who belongs to one workshop, owners first, then by address."""
        rank = models.Case(
            models.When(role=Membership.Role.OWNER, then=0),
            models.When(role=Membership.Role.HELPER, then=1),
            default=2,
        )
        return (
            self.filter(workshop=workshop)
            .select_related("user")
            .order_by(rank, "user__email", "pk")
        )

    def with_second_step(self) -> "MembershipQuerySet":
        """Each with `has_second_step`: whether a password alone does not let this person in."""
        app = CodeApp.objects.filter(user=models.OuterRef("user"))
        passkey = Passkey.objects.filter(user=models.OuterRef("user"))
        return self.annotate(has_second_step=models.Exists(app) | models.Exists(passkey))

    def asking_for_second_step(self) -> "MembershipQuerySet":
        """Only in workshops that ask their people for a second step."""
        return self.filter(workshop__second_step_since__isnull=False)

    def owners(self) -> "MembershipQuerySet":
        """Only owners."""
        return self.filter(role=Membership.Role.OWNER)


class Membership(models.Model):
    """One person's role in one workshop."""

    class Role(models.TextChoices):
        OWNER = "owner", "Owner: can change everything"
        HELPER = "helper", "Editor: everything except settings and people"
        READER = "reader", "Viewer: can look but not edit"

    user = models.ForeignKey("maker.User", on_delete=models.CASCADE, related_name="memberships")
    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="memberships"
    )
    role = models.CharField(max_length=10, choices=Role)

    objects = MembershipQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["user", "workshop"], name="one_role_per_workshop"),
            models.CheckConstraint(
                condition=models.Q(role__in=["owner", "helper", "reader"]), name="known_role"
            ),
        )

    def __str__(self) -> str:
        return f"{self.user} in {self.workshop}"

    @property
    def may_change(self) -> bool:
        """Whether this role may write."""
        return self.role in (self.Role.OWNER, self.Role.HELPER)

    @property
    def may_own(self) -> bool:
        """Whether this role may change the workshop's settings and people."""
        return self.role == self.Role.OWNER


class Try(models.Model):
    """One try at a secret, kept for a day under a digest of what it was tried on."""

    key = models.CharField(max_length=64)
    at = models.DateTimeField()

    class Meta:
        indexes = (
            models.Index(fields=["key", "at"], name="tries_of_a_key"),
            models.Index(fields=["at"], name="tries_by_age"),
        )

    def __str__(self) -> str:
        return f"{self.key[:8]} at {self.at}"


class Session(AbstractBaseSession):
    """One browser: what it carries along, whose it is, and when it was seen last."""

    user = models.ForeignKey(
        "maker.User", on_delete=models.CASCADE, null=True, related_name="sessions"
    )
    seen_at = models.DateTimeField()

    class Meta(AbstractBaseSession.Meta):
        pass

    def __str__(self) -> str:
        return f"a browser of {self.user_id}"

    @classmethod
    def get_session_store_class(cls) -> type[SessionBase]:
        """Return how rows are read and written."""
        store: type[SessionBase] = import_module(settings.SESSION_ENGINE).SessionStore
        return store


class CodeApp(models.Model):
    """An app on her phone that shows one-time codes; its secret is kept sealed."""

    user = models.OneToOneField("maker.User", on_delete=models.CASCADE, related_name="code_app")
    sealed_secret = models.TextField()
    # the step of the newest code that was taken: no code is taken twice
    last_counter = models.BigIntegerField()
    added_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"codes of {self.user_id}"


class RecoveryCode(models.Model):
    """A code on paper for when the phone is lost; good once."""

    user = models.ForeignKey("maker.User", on_delete=models.CASCADE, related_name="recovery_codes")
    number = models.PositiveSmallIntegerField()
    hashed = models.CharField(max_length=200)
    used_at = models.DateTimeField(null=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["user", "number"], name="one_recovery_code_a_number"),
        )

    def __str__(self) -> str:
        return f"recovery code {self.number} of {self.user_id}"


class Passkey(models.Model):
    """What a phone, computer or key signs with instead of a password."""

    user = models.ForeignKey("maker.User", on_delete=models.CASCADE, related_name="passkeys")
    name = models.CharField(max_length=60)
    # both as base64url; an id has at most 1,023 bytes (WebAuthn Level 2, section 4)
    credential_id = models.CharField(max_length=1364, unique=True)
    public_key = models.TextField()
    sign_count = models.BigIntegerField()
    transports = models.CharField(max_length=120, blank=True)
    added_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return self.name
