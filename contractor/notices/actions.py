"""Writes about notices: queue once per occasion, send, and keep what happened."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.urls import reverse

from contractor.accounts.queries import the_company
from contractor.celery import start_after_commit
from contractor.core import audit
from contractor.core.audit import SYSTEM, Actor
from contractor.core.templatetags.country_style import written_for
from contractor.notices import personal_links, queries
from contractor.notices.errors import (
    NobodyToWriteTo,
    NoPostalAddress,
    NotFailed,
    NotPrintedYet,
    OffersNotWanted,
    StillSending,
)
from contractor.notices.models import Notice, OptOut, ReceivedText
from contractor.notices.rules.channels import (
    ABOUT_VISITS,
    COMMERCIAL,
    LETTER,
    TEXT,
    dialled,
    way_after,
    ways_for,
)
from contractor.notices.rules.quiet import next_moment
from contractor.notices.rules.replies import Reply, meaning_of
from contractor.notices.rules.segments import parts_of
from contractor.notices.texting import TextNotSent, gateway
from contractor.notices.writing import email_of, has_short, reference_of, written
from contractor.properties.actions import make_owner_link
from contractor.properties.errors import NoEmail, NoOwner
from contractor.properties.models import Ownership, Person, Property

MOST_ATTEMPTS = 5
# A worker is stopped before this (settings.CELERY_TASK_TIME_LIMIT), so what is "sending" for longer is stuck.
SENDING_AT_MOST = timedelta(minutes=10)
OWNER_LINK = personal_links.marker("your-house")

# What answers somebody who has just written to us: it goes at once and nowhere else.
ANSWERS = frozenset({"texts_stopped", "texts_started", "texts_help"})

# Notices that say nothing to somebody who no longer owns the house.
FOR_THE_PRESENT_OWNER = (
    *sorted(ABOUT_VISITS),
    "checkup_due",
    "owner_link",
    "plan_offer",
    "plan_renewal",
    "plan_unpaid",
    "report_ready",
    "transfer_inquiry_owner",
    "warranty_issued",
)


@transaction.atomic
def queue_notice(
    *,
    occasion: str,
    template: str,
    person: Person,
    property: Property | None,
    context: Mapping[str, Any],
    by: Actor,
    at: datetime,
    not_before: datetime | None = None,
    not_after: datetime | None = None,
    asked_for: bool = False,
    about: str = "",
    never_by: tuple[str, ...] = (),
) -> Notice:
    """Writes a message from ``notices/<template>.subject.txt``, ``.txt``, ``.html`` and ``.short.txt`` and queues it.

    The same occasion gives the same notice: the first one stays and nothing is sent twice. It goes as the person
    wishes: as a text where there is a short form, by e-mail, else as a letter to print; a message that the person has
    ``asked_for`` goes by e-mail all the same. ``never_by`` names ways that would be of no use. Raises NobodyToWriteTo
    when no way is left; OffersNotWanted and NoPostalAddress for what sells something.
    """
    known = Notice.objects.filter(occasion=occasion).first()
    if known is not None:
        return known
    may_sell(template, person)
    way = way_to(template, person, asked_for=asked_for, never_by=never_by)
    bodies = written_by_us(template, {**context, "person": person, "property": property}, by_letter=way == LETTER)
    # Two who write about one occasion in the same moment: the unique occasion lets one of them in.
    notice, is_new = Notice.objects.get_or_create(
        occasion=occasion,
        defaults={
            "template": template,
            "channel": way,
            "person": person,
            "property": property,
            "address": _address(person, way),
            **bodies,
            "about": about,
            "queued_at": at,
            "not_before": not_before or at,
            "not_after": not_after,
        },
    )
    if not is_new:
        return notice
    _record(
        notice,
        "notice queued",
        by=by,
        at=at,
        after={"occasion": occasion, "template": template, "channel": notice.channel, "person_id": person.pk},
    )
    if way != LETTER and notice.not_before <= at:
        _wake(notice.pk)
    return notice


def written_by_us(
    template: str, words: Mapping[str, Any], *, by_letter: bool, with_links: bool | None = None
) -> dict[str, str]:
    """The words of a message with what each of ours knows; without links where it is a letter or only looked at."""
    company = the_company()
    known = {"company": company, "site": settings.SITE_ADDRESS, "owner_link": OWNER_LINK, "by_letter": by_letter}
    with written_for(company.country):
        return written(template, {**words, **known}, with_links=not by_letter if with_links is None else with_links)


def way_to(template: str, person: Person, *, asked_for: bool = False, never_by: tuple[str, ...] = ()) -> str:
    """The way in which a message goes to somebody. Raises NobodyToWriteTo."""
    ways = ways_for(queries.reach_of(person), has_short=has_short(template), asked_for=asked_for)
    way = TEXT if template in ANSWERS else next((way for way in ways if way not in never_by), None)
    if way is None:
        raise NobodyToWriteTo(person.name)
    return way


def may_sell(template: str, person: Person) -> None:
    """Whether a message of this template may be written to somebody; what sells nothing always may.

    Raises NoPostalAddress or OffersNotWanted.
    """
    if template in COMMERCIAL:
        if not the_company().street:
            raise NoPostalAddress
        if queries.stopped_offers(person.email):
            raise OffersNotWanted(person.name)


def _address(person: Person, way: str) -> str:
    if way == TEXT:
        return queries.reach_of(person).number
    return person.email if way == Notice.Channel.EMAIL else ""


def send_notice(*, notice_id: int, at: datetime) -> bool:
    """Sends one queued e-mail or text; True when it went out now.

    The claim is one compare-and-set, so two workers never send the same notice. What does not hold any more is
    withdrawn; what would ring at night waits for the morning where its reader lives. After five attempts, or at once
    when the message itself can't be sent (a broken address), a text goes by e-mail or letter instead, and an e-mail
    lies in sight of the office as failed. A worker that dies while sending leaves the state "sending"; such a notice
    is never repeated by itself, because the message may have gone out.
    """
    claimed = Notice.objects.to_send(at).filter(pk=notice_id).exclude(channel=Notice.Channel.LETTER)
    # While it is being sent, ``not_before`` is the moment of the claim.
    if not claimed.update(state=Notice.State.SENDING, not_before=at):
        return False
    notice = Notice.objects.select_related("person", "property").get(pk=notice_id)
    if because := queries.no_longer(notice, at):
        _withdraw(notice, because, at=at)
        return False
    if (later := _day_comes(notice, at)) > at:
        notice.state, notice.not_before = Notice.State.QUEUED, later
        notice.save()
        return False
    notice.attempts += 1
    try:
        _hand_over(notice, at)
    except (OSError, ValueError, TextNotSent) as problem:
        # Every trouble with a server is an OSError; a ValueError is about the message and won't mend by waiting.
        for_good = isinstance(problem, ValueError) or (isinstance(problem, TextNotSent) and problem.for_good)
        notice.last_error = str(problem)
        if for_good or notice.attempts >= MOST_ATTEMPTS:
            _failed_for_good(notice, at=at)
        else:
            notice.state, notice.not_before = Notice.State.QUEUED, at + timedelta(minutes=2**notice.attempts)
            notice.save()
        return False
    notice.state, notice.sent_at, notice.last_error = Notice.State.SENT, at, ""
    notice.save()
    return True


def _hand_over(notice: Notice, at: datetime) -> None:
    if notice.channel == Notice.Channel.TEXT:
        _, _, short = personal_links.with_links(notice, at)
        notice.parts = parts_of(short).parts
        gateway().send(to=notice.address, text=short, reference=reference_of(notice))
    elif not email_of(notice, at).send():
        raise ValueError("There is no address to send it to.")


def _day_comes(notice: Notice, at: datetime) -> datetime:
    """When it may go out: telephones don't ring at night, and nothing is sold then. An answer goes at once."""
    is_answer = notice.template in ANSWERS
    if is_answer or (notice.channel != Notice.Channel.TEXT and notice.template not in COMMERCIAL):
        return at
    return next_moment(at, queries.zones_at(notice.property))


def _failed_for_good(notice: Notice, *, at: datetime) -> None:
    """A text goes another way, and so does an e-mail that took its place; any other e-mail waits for the office."""
    ways = ways_for(queries.reach_of(notice.person), has_short=True, asked_for=False)
    began_as_text = notice.channel == Notice.Channel.TEXT or bool(notice.fell_back)
    way = way_after(notice.channel, ways) if began_as_text and notice.template not in ANSWERS else None
    if way is None:
        notice.state = Notice.State.FAILED
        notice.save()
        return
    notice.fell_back = f"{notice.fell_back} {notice.get_channel_display()}: {notice.last_error}".strip()
    notice.channel, notice.address = way, _address(notice.person, way)
    if way == LETTER:
        notice.text = personal_links.without_links(notice.text)
        notice.html = personal_links.without_links(notice.html)
    notice.state, notice.attempts, notice.not_before, notice.last_error = Notice.State.QUEUED, 0, at, ""
    notice.save()
    _record(notice, "notice goes another way", by=SYSTEM, at=at, after={"channel": way})
    if way != LETTER:
        _wake(notice.pk)


@transaction.atomic
def text_failed(*, notice_id: int, because: str, at: datetime) -> bool:
    """Takes in that a text which was handed over did not arrive: it goes by e-mail or letter; True when it does."""
    notice = Notice.objects.select_for_update().filter(pk=notice_id, channel=Notice.Channel.TEXT).first()
    if notice is None or notice.state != Notice.State.SENT:
        return False
    notice.last_error, notice.sent_at = because.strip()[:500] or "The carrier gave no reason.", None
    _failed_for_good(notice, at=at)
    return True


@transaction.atomic
def withdraw_about(*, about: str, because: str, at: datetime) -> int:
    """Withdraws what still waits about something that has changed; returns how much."""
    waiting = Notice.objects.select_for_update().filter(about=about, state=Notice.State.QUEUED).order_by("pk")
    return _withdraw_all(waiting, because, at=at)


def _withdraw(notice: Notice, because: str, *, at: datetime) -> None:
    notice.state, notice.last_error = Notice.State.WITHDRAWN, because
    notice.save()
    _record(notice, "notice withdrawn", by=SYSTEM, at=at, after={"state": notice.state})


@transaction.atomic
def stop(*, what: str, address: str, at: datetime) -> OptOut:
    """Notes that texts or offers are not wanted at an address; said twice it is noted once."""
    said, is_new = OptOut.objects.get_or_create(
        what=what, address=address, lifted_at=None, defaults={"said_at": at}
    )
    if is_new:
        audit.record(by=SYSTEM, at=at, verb=f"no more {what}", subject=said, property_id=None, after={"what": what})
    return said


@transaction.atomic
def start_again(*, what: str, address: str, at: datetime) -> None:
    """Lifts what ``stop`` noted, because the owner says so."""
    for said in OptOut.objects.select_for_update().standing(what, address):
        said.lifted_at = at
        said.save()
        audit.record(by=SYSTEM, at=at, verb=f"{what} wanted again", subject=said, property_id=None)


@transaction.atomic
def take_in_text(*, number: str, text: str, at: datetime) -> ReceivedText:
    """Takes in what somebody answered to a text: STOP and START hold at once and are confirmed once, words wait for
    the office."""
    known = dialled(number) or number
    person = next(iter(queries.people_with_number(known)), None)
    meaning = meaning_of(text)
    received = ReceivedText.objects.create(
        number=known[:20],
        text=text[:2000],
        meaning=meaning,
        person=person,
        received_at=at,
        settled_at=None if meaning == Reply.WORDS else at,
    )
    stopped = OptOut.objects.standing(OptOut.What.TEXTS, known)
    answer, occasion = "", f"text received:{received.pk}"
    if meaning == Reply.STOP:
        answer, occasion = "texts_stopped", f"texts stopped:{stop(what='texts', address=known, at=at).pk}"
    elif meaning == Reply.START and stopped.exists():
        start_again(what=OptOut.What.TEXTS, address=known, at=at)
        answer = "texts_started"
    elif meaning == Reply.HELP:
        answer = "texts_help"
    if answer and person is not None:
        queue_notice(
            occasion=occasion, template=answer, person=person, property=None, context={}, by=SYSTEM, at=at
        )
    return received


@transaction.atomic
def settle_received(*, received_id: int, by: Actor, at: datetime) -> None:
    """Notes that the office has dealt with what somebody answered."""
    received = ReceivedText.objects.select_for_update().get(pk=received_id)
    if received.settled_at is None:
        received.settled_at = at
        received.save()
        audit.record(by=by, at=at, verb="answer dealt with", subject=received, property_id=None)


@transaction.atomic
def try_again(*, notice_id: int, by: Actor, at: datetime) -> Notice:
    """Queues a notice that failed, or got stuck while being sent, once more by hand.

    Raises NotFailed, or StillSending while a worker may still be at it.
    """
    notice = Notice.objects.select_for_update().get(pk=notice_id)
    if notice.state == Notice.State.SENDING and at < notice.not_before + SENDING_AT_MOST:
        raise StillSending
    if notice.state not in {Notice.State.FAILED, Notice.State.SENDING}:
        raise NotFailed
    notice.state, notice.attempts, notice.not_before = Notice.State.QUEUED, 0, at
    notice.save()
    _record(notice, "notice tried again", by=by, at=at, after={"state": "queued"})
    _wake(notice.pk)
    return notice


@transaction.atomic
def mark_letter_sent(*, notice_id: int, by: Actor, at: datetime) -> Notice:
    """Notes that a printed letter was posted."""
    notice = Notice.objects.select_for_update().get(pk=notice_id)
    if notice.channel == Notice.Channel.LETTER and notice.state == Notice.State.QUEUED:
        notice.state, notice.sent_at = Notice.State.SENT, at
        notice.save()
        _record(notice, "letter posted", by=by, at=at, after={"state": "sent"})
    return notice


@transaction.atomic
def mark_letters_sent(*, notice_ids: Sequence[int], by: Actor, at: datetime) -> int:
    """Notes that the letters of a day's post were posted; returns how many. Raises NotPrintedYet for none."""
    if not notice_ids:
        raise NotPrintedYet
    waiting = queries.letters_to_post().select_for_update(of=("self",)).filter(pk__in=notice_ids)
    return len([mark_letter_sent(notice_id=notice.pk, by=by, at=at) for notice in waiting])


@transaction.atomic
def withdraw_stale_letters(*, at: datetime) -> int:
    """Withdraws letters that say what is no longer so, before they are printed; returns how many."""
    stale = [(notice, because) for notice in queries.letters_to_post() if (because := queries.no_longer(notice, at))]
    for notice, because in stale:
        _withdraw(notice, because, at=at)
    return len(stale)


@transaction.atomic
def send_owner_link(*, ownership_id: int, occasion: str, by: Actor, at: datetime) -> Notice:
    """Writes to the present owner with a fresh secret link to their house. Raises NoEmail or NoOwner."""
    ownership = Ownership.objects.select_related("person", "property").get(pk=ownership_id)
    if ownership.until_on is not None:
        raise NoOwner
    if not ownership.person.email:
        raise NoEmail
    return queue_notice(
        occasion=occasion,
        template="owner_link",
        person=ownership.person,
        property=ownership.property,
        context={},
        by=by,
        at=at,
        asked_for=True,
    )


@transaction.atomic
def withdraw_for_former_owners(*, property_id: int, at: datetime) -> int:
    """Withdraws what still waits for somebody who has handed the house over; returns how much.

    Only what concerns the present owner: a seller still hears of their transfer and their claim.
    """
    present = Ownership.objects.open_ended().filter(property_id=property_id).values("person_id")
    former = Ownership.objects.filter(property_id=property_id, until_on__isnull=False).values("person_id")
    waiting = (
        Notice.objects.select_for_update()
        .filter(property_id=property_id, state=Notice.State.QUEUED, template__in=FOR_THE_PRESENT_OWNER)
        .filter(person_id__in=former)
        .exclude(person_id__in=present)
    )
    return _withdraw_all(waiting, "The house was handed over before this went out.", at=at)


@transaction.atomic
def withdraw_waiting(*, occasions: Sequence[str], because: str, at: datetime, person: Person | None = None) -> int:
    """Withdraws what still waits to be sent or printed about these occasions and their parts ("sale:7", "sale:7:…").

    With ``person`` only what is for them. Returns how much.
    """
    about = Q(pk__in=[])
    for occasion in occasions:
        about |= Q(occasion=occasion) | Q(occasion__startswith=f"{occasion}:")
    waiting = Notice.objects.select_for_update().filter(about, state=Notice.State.QUEUED)
    if person is not None:
        waiting = waiting.filter(person=person)
    return _withdraw_all(waiting, because, at=at)


def _withdraw_all(waiting: Iterable[Notice], because: str, *, at: datetime) -> int:
    found = list(waiting)
    for notice in found:
        _withdraw(notice, because, at=at)
    return len(found)


def house_link(*, notice: Notice, key: int | None, at: datetime) -> str | None:
    """A new secret link to the house of a message, while its reader owns it; for ``personal_links``."""
    if notice.property is None:
        return None
    ownership = notice.property.ownerships.open_ended().filter(person=notice.person).first()
    if ownership is None:
        return None
    return reverse("portal:link", args=[make_owner_link(ownership_id=ownership.pk, by=SYSTEM, at=at)])


def _record(notice: Notice, verb: str, *, by: Actor, at: datetime, after: Mapping[str, Any]) -> None:
    audit.record(by=by, at=at, verb=verb, subject=notice, property_id=notice.property_id, after=after)


def _wake(notice_id: int) -> None:
    start_after_commit("contractor.notices.tasks.send_one_notice", notice_id=notice_id)
