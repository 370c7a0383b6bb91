"""What the tablet's own page talks to: the shell, the worker, and the door. Answers are JSON; every "no" is a
sentence."""

import json
import logging
from collections.abc import Callable
from functools import wraps
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse, UnreadablePostError
from django.http.response import HttpResponseBase
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.urls import reverse
from django.utils.cache import get_conditional_response
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.tablet import errors
from contractor.tablet.access import Visitor, by_key_or_session, by_session, forged, on_registered_tablet
from contractor.tablet.actions import devices as device_actions
from contractor.tablet.actions import door, photos
from contractor.tablet.actions.epoch import epoch_now
from contractor.tablet.pack import pack_for
from contractor.tablet.pressure import a_place
from contractor.tablet.shell import version, worker_context
from contractor.tablet.told import visits_told
from contractor.visits.actions.telling import say_on_the_way
from contractor.visits.models import Appointment

logger = logging.getLogger(__name__)

MOST_ITEMS = 50
MOST_BYTES = 200_000
# A single item may be larger: a signature of many strokes must get through too.
MOST_BYTES_OF_ONE = 1_000_000
MOST_DAYS = 14
STATUS: dict[type[Refusal], int] = {
    errors.NotSignedIn: 401,
    errors.KeyEnded: 401,
    errors.FromAnotherSite: 403,
    errors.DeviceRevoked: 403,
    errors.NotRegistered: 428,
    errors.UnreadableRequest: 400,
    errors.TooMuchAtOnce: 413,
    errors.PhotoTooBig: 413,
    errors.TooOften: 429,
    errors.Busy: 503,
}
BUSY_SECONDS = 10

# Twelve basements go through one bar of signal.
COMPACT = {"separators": (",", ":"), "ensure_ascii": False}

View = Callable[..., HttpResponseBase]


def speaks_json(view: View) -> View:
    """Turns a refusal into its sentence as JSON, with the status that the tablet acts upon.

    Where the database or the disk fails, nothing was promised: the tablet keeps all and is told when to come again.
    """

    @wraps(view)
    def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        try:
            return view(request, *args, **kwargs)
        except UnreadablePostError:
            return _refused(errors.UnreadableRequest())  # the line broke; nobody hears this
        except (OperationalError, InterfaceError, OSError):
            logger.exception("The tablet's door could not do its work.")
            return _refused(errors.Busy(BUSY_SECONDS))
        except Refusal as refusal:
            return _refused(refusal)

    return answered


def at_the_door(view: View) -> View:
    """Serves a few tablets at once. One that is sent away is heard to its end first, or it would not hear so."""

    @wraps(view)
    def served(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        try:
            with a_place():
                return view(request, *args, **kwargs)
        except errors.Busy:
            while request.read(MOST_BYTES):
                pass
            raise

    return served


def _refused(refusal: Refusal) -> JsonResponse:
    told: dict[str, Any] = {"sentence": refusal.sentence}
    for name in ("offset", "most_items", "most_bytes", "seconds"):
        if hasattr(refusal, name):
            told[name] = getattr(refusal, name)
    answer = JsonResponse(told, status=STATUS.get(type(refusal), 409))
    if isinstance(refusal, errors.TooOften | errors.Busy):
        answer["Retry-After"] = str(refusal.seconds)
        # No error of the program: two hundred tablets at once would fill the log, and what failed stands in it already.
        answer.__dict__["_has_been_logged"] = True
    return answer


@require_safe
def shell(request: HttpRequest) -> HttpResponse:
    """The page itself: the same for everybody, with nobody's data in it."""
    answer = HttpResponse(render(None, "tablet/shell.html", {"version": version()}).content)
    answer["Cache-Control"] = "no-cache"
    return answer


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker, or the one that takes itself away when the installation says so."""
    template = "tablet/worker_off.js" if settings.TABLET_WORKER_OFF else "tablet/worker.js"
    context = worker_context(shell_address=reverse("tablet:shell"))
    answer = render(None, template, context, content_type="text/javascript; charset=utf-8")
    answer["Cache-Control"] = "no-cache"
    return answer


@require_safe
@speaks_json
def me(request: HttpRequest) -> HttpResponseBase:
    """Who is signed in, which life of the database this is, and the token that writing needs."""
    try:
        visitor = by_session(request)
    except errors.NotSignedIn as refusal:
        return JsonResponse({"sentence": refusal.sentence, "csrf": get_token(request)}, status=401)
    person = visitor.person
    told = {"id": person.pk, "name": person.name, "role": person.role}
    return JsonResponse({"person": told, "csrf": get_token(request), **_told_always()})


@require_POST
@speaks_json
def devices(request: HttpRequest) -> HttpResponseBase:
    """Registers this tablet and hands out a key, once."""
    visitor, body = by_session(request), _body(request, most_bytes=MOST_BYTES)
    about = body.get("about")
    made = device_actions.register_device(
        device_id=_device(body),
        name=str(body.get("name", "")),
        about=about if isinstance(about, dict) else {},
        person=visitor.person,
        at=clock.now(),
    )
    on_registered_tablet(request, _device(body))
    return JsonResponse({"key": made.key, "key_id": made.key_id, "expires": made.expires_at.isoformat()})


@require_safe
@gzip_page  # nothing in it is secret beside something that a stranger could choose
@speaks_json
def pack(request: HttpRequest) -> HttpResponseBase:
    """The rounds of the next days with everything that is needed underground."""
    visitor = by_session(request)
    on_registered_tablet(request, _device_or_none(request.GET.dict()))
    asked = request.GET.get("days", "2")
    days = min(int(asked), MOST_DAYS) if asked.isdecimal() and len(asked) < 4 else 2
    made = pack_for(
        person=visitor.person, on=clock.today(), days=max(days, 1), epoch=epoch_now(at=clock.now()), client=version()
    )
    etag = f'"{made.etag}"'
    unchanged = get_conditional_response(request, etag=etag)
    told = {**made.content, "made": clock.now().isoformat()}
    answer = unchanged or JsonResponse(told, json_dumps_params=COMPACT)
    answer["ETag"] = etag
    answer["Cache-Control"] = "private, no-cache"
    return answer


@csrf_exempt  # an upload key needs none, and ``forged`` asks for it where cookies count
@require_POST
@speaks_json
@at_the_door
def events(request: HttpRequest) -> HttpResponseBase:
    """Takes what a tablet kept, and gives a receipt for each item."""
    if (refused := forged(request)) is not None:
        return refused
    at = clock.now()
    visitor = by_key_or_session(request, at=at)
    body = _body(request, most_bytes=MOST_BYTES_OF_ONE)
    items = body.get("items")
    if not isinstance(items, list):
        raise errors.UnreadableRequest
    if len(items) > MOST_ITEMS or (len(items) > 1 and len(request.body) > MOST_BYTES):
        raise errors.TooMuchAtOnce(MOST_ITEMS, MOST_BYTES)
    device_id = visitor.device_id or _device_or_none(body)
    sender = door.Sender(person=visitor.person, device_id=device_id)
    receipts = door.take_items(items=items, sender=sender, at=at)
    _heard(visitor, device_id, body)
    return JsonResponse(
        {
            **_told_always(),
            "receipts": [
                {
                    "id": receipt.id,
                    "sha256": receipt.sha256,
                    "status": receipt.status,
                    "flags": list(receipt.flags),
                    "sentence": receipt.sentence,
                }
                for receipt in receipts
            ],
            "visits": visits_told(
                event_ids=[receipt.id for receipt in receipts if receipt.status != door.QUARANTINED],
                person=visitor.person,
                device_id=device_id,
            ),
        }
    )


@require_POST
@speaks_json
def ready(request: HttpRequest) -> HttpResponseBase:
    """Keeps what the morning's ready check found."""
    visitor, body = by_session(request), _body(request, most_bytes=MOST_BYTES)
    checks = body.get("checks")
    if not isinstance(checks, list) or not all(isinstance(check, dict) for check in checks):
        raise errors.UnreadableRequest
    kept = device_actions.keep_ready_check(
        device_id=_device(body), checks=checks, person=visitor.person, at=clock.now()
    )
    return JsonResponse({"kept": kept is not None, **_told_always()})


@require_POST
@speaks_json
def on_the_way(request: HttpRequest, appointment_id: int) -> HttpResponseBase:
    """Tells the owner of one of somebody's own stops that they have set out: now or never, as it is untrue later."""
    visitor = by_session(request)
    if not Appointment.objects.filter(pk=appointment_id, technician=visitor.person).exists():
        raise errors.NotYourStop
    told = say_on_the_way(appointment_id=appointment_id, by=visitor.person.actor, at=clock.now())
    sentence = f"{told.person.name} is told by {told.get_channel_display().lower()}."
    return JsonResponse({"sentence": sentence, **_told_always()})


@csrf_exempt  # as for events
@require_http_methods(["GET", "PATCH"])
@speaks_json
@at_the_door
def photo(request: HttpRequest, photo_id: UUID) -> HttpResponseBase:
    """How far a photo has come; PATCH adds the next chunk."""
    if (refused := forged(request)) is not None:
        return refused
    at = clock.now()
    visitor = by_key_or_session(request, at=at)
    if request.method == "GET":
        return _photo(photos.photo_state(photo_id=photo_id))
    if int(request.headers.get("Content-Length") or 0) > photos.CHUNK_BYTES:
        raise errors.TooMuchAtOnce(1, photos.CHUNK_BYTES)
    offset, length = _whole(request, "Upload-Offset"), _whole(request, "Upload-Length")
    sha256 = request.headers.get("Upload-Sha256", "").lower()
    if len(sha256) != 64 or not set(sha256) <= set("0123456789abcdef"):
        raise errors.UnreadableRequest
    taken = photos.take_chunk(
        photo_id=photo_id,
        offset=offset,
        length=length,
        sha256=sha256,
        content=request.body,
        person=visitor.person,
        at=at,
    )
    return _photo(taken)


def _photo(state: photos.PhotoState) -> JsonResponse:
    return JsonResponse({"offset": state.offset, "done": state.is_done, "sha256": state.sha256})


def _whole(request: HttpRequest, name: str) -> int:
    text = request.headers.get(name, "")
    if not (text.isascii() and text.isdecimal() and len(text) <= 9):
        raise errors.UnreadableRequest
    return int(text)


def _told_always() -> dict[str, str]:
    at = clock.now()
    return {
        "epoch": epoch_now(at=at),
        "now": at.isoformat(),
        "min_client": settings.TABLET_MIN_CLIENT,
        "client": version(),
    }


def _body(request: HttpRequest, *, most_bytes: int) -> dict[str, Any]:
    """The request's JSON object. Raises UnreadableRequest or TooMuchAtOnce."""
    if int(request.headers.get("Content-Length") or 0) > most_bytes:
        raise errors.TooMuchAtOnce(MOST_ITEMS, MOST_BYTES)
    try:
        body = json.loads(request.body)
    except (ValueError, RecursionError):
        raise errors.UnreadableRequest from None
    if not isinstance(body, dict):
        raise errors.UnreadableRequest
    return body


def _device(body: dict[str, Any]) -> UUID:
    device_id = _device_or_none(body)
    if device_id is None:
        raise errors.UnreadableRequest
    return device_id


def _device_or_none(body: dict[str, Any]) -> UUID | None:
    try:
        device_id = UUID(body["device"])
    except (KeyError, ValueError, TypeError, AttributeError):
        return None
    return device_id if device_id.int else None


def _heard(visitor: Visitor, device_id: UUID | None, body: dict[str, Any]) -> None:
    waiting, client = body.get("waiting"), body.get("client")
    is_count = isinstance(waiting, int) and not isinstance(waiting, bool) and 0 <= waiting < 10**6
    device_actions.heard_from(
        device_id=device_id,
        person=visitor.person,
        at=clock.now(),
        key_id=visitor.key_id,
        waiting=waiting if is_count else None,
        client=client if isinstance(client, str) else "",
    )
