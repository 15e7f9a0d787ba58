"""Where a request comes from: for counting wrong tries, and as it is kept and logged."""

from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network

from django.conf import settings
from django.http import HttpRequest
from django.utils.crypto import salted_hmac


def visitor_address(request: HttpRequest) -> str:
    """Return the address that wrong tries are counted by.

    Of an IPv6 address that is the network of the first 64 bits: a household or a rented machine
    has all of it, so counting single addresses would count nothing.
    """
    address = _address(request)
    if isinstance(address, IPv6Address):
        return str(ip_network((int(address), 64), strict=False).network_address)
    return str(address)


def kept_address(request: HttpRequest) -> str:
    """Return the address as LOG_ADDRESSES lets it be kept: `short`, `hash` or `full`.

    Short leaves out the last 8 bits of IPv4 and the last 80 of IPv6. The hash is keyed: it tells
    whether two visits came from one place, not from which.
    """
    address = _address(request)
    if settings.LOG_ADDRESSES == "full":
        return str(address)
    if settings.LOG_ADDRESSES == "hash":
        keyed = salted_hmac("maker.activity.visitor", str(address), algorithm="sha256")
        return f"#{keyed.hexdigest()[:12]}"
    if isinstance(address, str):
        return address
    bits = 48 if isinstance(address, IPv6Address) else 24
    return str(ip_network(f"{address}/{bits}", strict=False))


def _address(request: HttpRequest) -> IPv4Address | IPv6Address | str:
    """Return who asks; a socket without an address has a name of its own.

    Behind a proxy every connection is the proxy's, and one guesser would close sign-in for all;
    so the last entry of X-Forwarded-For counts, the one our own proxy wrote. Entries before it
    are whatever the visitor likes to claim.
    """
    direct = str(request.META.get("REMOTE_ADDR", ""))
    if settings.BEHIND_PROXY:
        forwarded = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
        return _read(forwarded) or _read(direct) or direct
    return _read(direct) or direct


def _read(text: str) -> IPv4Address | IPv6Address | None:
    try:
        address = ip_address(text)
    except ValueError:
        return None
    if isinstance(address, IPv6Address) and address.ipv4_mapped:
        return address.ipv4_mapped
    return address
