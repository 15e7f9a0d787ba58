"""The server that mail goes out by."""

from typing import Any

from django.db import models


class MailServer(models.Model):
    """The one server of this installation; without it letters are written into a folder."""

    class Security(models.TextChoices):
        STARTTLS = "starttls", "STARTTLS, usually port 587"
        TLS = "tls", "TLS from the start, usually port 465"
        NONE = "none", "None: only for a server on this very computer"

    host = models.CharField(max_length=253)
    port = models.PositiveIntegerField(default=587)
    security = models.CharField(max_length=8, choices=Security, default=Security.STARTTLS)
    username = models.CharField(max_length=254, blank=True)
    sealed_password = models.TextField(blank=True)
    from_address = models.EmailField(max_length=254)

    class Meta:
        constraints = (models.CheckConstraint(condition=models.Q(pk=1), name="one_mail_server"),)

    def __str__(self) -> str:
        return f"{self.host}:{self.port}"


def mail_server() -> Any:
    """Return the server, or None where letters are written into the folder."""
    return MailServer.objects.filter(pk=1).first()
