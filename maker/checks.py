"""System checks that name a wrong set-up of the installation before anyone meets it."""

import stat
from collections.abc import Sequence
from pathlib import Path
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


@register()
def check_what_browsers_remember(**kwargs: Any) -> Sequence[CheckMessage]:
    """Refuse a half choice of what browsers shall remember about HTTPS."""
    asked = {
        "HSTS_SUBDOMAINS": settings.SECURE_HSTS_INCLUDE_SUBDOMAINS,
        "HSTS_PRELOAD": settings.SECURE_HSTS_PRELOAD,
    }
    found: list[CheckMessage] = [
        Warning(f"{name} does nothing without HTTPS.", hint="Set HTTPS=1 as well.", id="maker.W002")
        for name, is_on in asked.items()
        if is_on and not settings.HTTPS
    ]
    if asked["HSTS_PRELOAD"] and not asked["HSTS_SUBDOMAINS"]:
        found.append(
            Error(
                "HSTS_PRELOAD needs HSTS_SUBDOMAINS.",
                hint="The list of the browsers takes only names with all below them.",
                id="maker.E002",
            )
        )
    return found


@register(deploy=True)
def check_data_is_closed(**kwargs: Any) -> Sequence[CheckMessage]:
    """Warn when other users of the machine can read customers, prices or the secret key."""
    database = settings.DATABASES["default"]
    paths = [Path(settings.DATA_DIR)]
    if database["ENGINE"] == "django.db.backends.sqlite3":
        paths.append(Path(database["NAME"]))
    return [
        Warning(
            f"{path} is open to other users of this machine.",
            hint="Run `python3 manage.py setup`, or close it with `chmod go-rwx`.",
            id="maker.W003",
        )
        for path in paths
        if path.exists() and path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO)
    ]
