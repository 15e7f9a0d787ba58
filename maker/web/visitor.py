"""Where a request comes from, for counting wrong passwords."""

from ipaddress import IPv6Address, ip_address, ip_network

from django.conf import settings
from django.http import HttpRequest


def visitor_address(request: HttpRequest) -> str:
    """Return the address that wrong passwords are counted by.

    Of an IPv6 address that is the network of the first 64 bits: a household or a rented machine
    has all of it, so counting single addresses would count nothing.

    Behind a proxy every connection is the proxy's, and one guesser would close sign-in for all;
    so the last entry of X-Forwarded-For counts, the one our own proxy wrote. Entries before it
    are whatever the visitor likes to claim.
    """
    direct = str(request.META.get("REMOTE_ADDR", ""))
    if settings.BEHIND_PROXY:
        forwarded = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
        return _counted(forwarded) or _counted(direct) or direct
    return _counted(direct) or direct


def _counted(text: str) -> str:
    try:
        address = ip_address(text)
    except ValueError:
        return ""
    if not isinstance(address, IPv6Address):
        return str(address)
    if address.ipv4_mapped:
        return str(address.ipv4_mapped)
    return str(ip_network((int(address), 64), strict=False).network_address)
