"""Where a request comes from, for counting wrong passwords."""

from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest


def visitor_address(request: HttpRequest) -> str:
    """Return the visitor's network address.

    Behind a proxy every connection is the proxy's, and one guesser would close sign-in for all;
    so the last entry of X-Forwarded-For counts, the one our own proxy wrote. Entries before it
    are whatever the visitor likes to claim.
    """
    direct = str(request.META.get("REMOTE_ADDR", ""))
    if not settings.BEHIND_PROXY:
        return direct
    forwarded = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
    try:
        return str(ip_address(forwarded))
    except ValueError:
        return direct
