"""Renews the certificate before it ends."""

from pathlib import Path

from django.conf import settings

from maker.phone.certificates import renew_if_due, server_file


def renew_certificate() -> None:
    """Look by the hour; without one nothing is loaded to look at it."""
    data = Path(settings.DATA_DIR)
    if server_file(data).exists():
        renew_if_due(data)
