"""Who hands something in at the tablet's door: somebody signed in, or the upload key of one person on one device."""

import hashlib
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.core.cache import cache
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import CsrfViewMiddleware

from contractor.accounts.models import User
from contractor.tablet.actions.devices import ON_TABLETS, key_hash
from contractor.tablet.errors import DeviceRevoked, FromAnotherSite, KeyEnded, NotRegistered, NotSignedIn, TooOften
from contractor.tablet.models import Device, UploadKey

# What one tablet may ask in a minute: 60 photos in a minute and a half are 12 requests a second at most.
MOST_A_MINUTE = 1200


@dataclass(frozen=True, slots=True, kw_only=True)
class Visitor:
    """Who asks. ``key_id`` and ``device_id`` are those of an upload key; None for somebody signed in."""

    person: User
    key_id: int | None = None
    device_id: UUID | None = None

    @property
    def is_signed_in(self) -> bool:
        return self.key_id is None


def by_session(request: HttpRequest) -> Visitor:
    """The member of staff who is signed in. Raises NotSignedIn."""
    user = request.user
    if not isinstance(user, User) or not user.is_active:
        raise NotSignedIn
    return Visitor(person=user)


def on_registered_tablet(request: HttpRequest, device_id: UUID | None) -> None:
    """Lets a sign-in read rounds on a tablet that the office knows, and remembers every tablet it was used on, so that
    closing any of them ends it. Raises NotRegistered or DeviceRevoked."""
    device = None if device_id is None else Device.objects.filter(pk=device_id).first()
    if device is None:
        raise NotRegistered
    if device.revoked_at is not None:
        raise DeviceRevoked
    used_on = request.session.get(ON_TABLETS, [])
    if str(device_id) not in used_on:
        request.session[ON_TABLETS] = [*used_on, str(device_id)]


def by_key_or_session(request: HttpRequest, *, at: datetime) -> Visitor:
    """Whose key it is, cookies left aside; without a key, who is signed in.

    Raises FromAnotherSite, KeyEnded, NotSignedIn or TooOften.
    """
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in {"same-origin", "none"}:
        raise FromAnotherSite
    scheme, _, key = request.headers.get("Authorization", "").partition(" ")
    visitor = _by_key(key.strip(), at) if scheme.lower() == "bearer" else by_session(request)
    _count(visitor, at)
    return visitor


def forged(request: HttpRequest) -> HttpResponse | None:
    """The refusal of a forged request: asked only where cookies say who it is, never with an upload key."""
    if request.headers.get("Authorization", "").lower().startswith("bearer "):
        return None
    guard = CsrfViewMiddleware(lambda _: HttpResponse())
    guard.process_request(request)
    # The view itself is exempt, because a key needs no token; whom cookies name does.
    return guard.process_view(request, _guarded, (), {})


def _guarded(request: HttpRequest) -> HttpResponse:
    """Stands in for a view that is not exempt."""
    return HttpResponse()


def _by_key(key: str, at: datetime) -> Visitor:
    found = (
        UploadKey.objects.select_related("person", "device")
        .filter(key_sha256=key_hash(key), ended_at__isnull=True, expires_at__gt=at)
        .first()
    )
    if found is None or not found.person.is_active or found.device.revoked_at is not None:
        raise KeyEnded
    return Visitor(person=found.person, key_id=found.pk, device_id=found.device_id)


def _count(visitor: Visitor, at: datetime) -> None:
    """Counts one request; in the site's cache, so each server process counts for itself."""
    minute = int(at.timestamp()) // 60
    whose = hashlib.sha256(f"{visitor.person.pk}:{visitor.key_id}".encode()).hexdigest()[:24]
    name = f"tablet-{minute}-{whose}"
    cache.add(name, 0, timeout=120)
    try:
        count = cache.incr(name)
    except ValueError:
        return
    if count > MOST_A_MINUTE:
        raise TooOften(60 - int(at.timestamp()) % 60)
