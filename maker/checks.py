"""System checks that name a wrong set-up of the installation before anyone meets it."""

from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Warning, register


@register()
def check_secret_key(**kwargs: Any) -> Sequence[CheckMessage]:
    """Refuse a short secret key: sessions could be forged."""
    if len(settings.SECRET_KEY) < 40:
        return [
            Error(
                "SECRET_KEY is shorter than 40 characters.",
                hint="Unset it to have one made and kept in the data folder, or set a longer one.",
                id="maker.E001",
            )
        ]
    return []


@register()
def check_hosts(**kwargs: Any) -> Sequence[CheckMessage]:
    """Warn when the app answers to any host name outside debugging."""
    if "*" in settings.ALLOWED_HOSTS and not settings.DEBUG:
        return [
            Warning(
                "ALLOWED_HOSTS holds '*': the app answers to any host name.",
                hint="List the names it is reached by, for example ALLOWED_HOSTS=shop.example",
                id="maker.W001",
            )
        ]
    return []
