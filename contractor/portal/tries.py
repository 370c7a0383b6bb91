"""How often somebody may guess on the public check page: a few wrong tries for each address in a quarter of an hour.

Counted in the site's cache, so each server process counts for itself; what is kept is no address but its keyed hash,
and it is gone after the next quarter of an hour.
"""

import ipaddress
from datetime import datetime

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest
from django.utils.crypto import salted_hmac

WRONG_TRIES = 10
WINDOW_SECONDS = 15 * 60
# One household or office is handed a whole IPv6 network of this length (common practice, no source).
IPV6_PREFIX = 64


def seconds_to_wait(request: HttpRequest, *, at: datetime) -> int:
    """How long this address has to wait before it may try again; 0 when it may."""
    if cache.get(_name(request, at), 0) < WRONG_TRIES:
        return 0
    return WINDOW_SECONDS - int(at.timestamp()) % WINDOW_SECONDS


def count_wrong_try(request: HttpRequest, *, at: datetime) -> None:
    """Counts one wrong try against this address."""
    name = _name(request, at)
    cache.add(name, 0, timeout=WINDOW_SECONDS)
    try:
        cache.incr(name)
    except ValueError:
        # It ran out between the two lines: the window is over anyway.
        return


def _name(request: HttpRequest, at: datetime) -> str:
    window = int(at.timestamp()) // WINDOW_SECONDS
    return f"wrong-tries-{window}-{salted_hmac('wrong tries', _network(request)).hexdigest()}"


def _network(request: HttpRequest) -> str:
    """The address of whoever asks, as our own proxy saw it; an IPv6 address by its network."""
    address = str(request.META.get("REMOTE_ADDR", ""))
    if settings.BEHIND_PROXY:
        # What stands before the last comma was sent by the visitor and may be invented.
        address = str(request.META.get("HTTP_X_FORWARDED_FOR", address)).rpartition(",")[2].strip()
    try:
        known = ipaddress.ip_address(address)
    except ValueError:
        return address
    if known.version == 6:
        return str(ipaddress.ip_network((known, IPV6_PREFIX), strict=False))
    return address
