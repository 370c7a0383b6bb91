"""An owner's pages about one appointment, by the link in a message: every change is a press of a button."""

from typing import Any

from django.contrib import messages
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.queries import the_company
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.notices.actions import stop
from contractor.notices.models import OptOut
from contractor.notices.no_offers import read_no_offers
from contractor.portal.access import owner_only
from contractor.portal.forms import PortalForm
from contractor.portal.visit_access import by_visit_link, state_of
from contractor.portal.visit_forms import CallMeForm, CallOffForm, DayForm, WishForm, YesForm
from contractor.properties.models import Ownership
from contractor.visits.actions import owner_answers as answers
from contractor.visits.days_offered import days_offered
from contractor.visits.invitations import PUBLISH, invitation, minutes_of
from contractor.visits.owner_tables import OwnerWish, VisitLink
from contractor.visits.queries import next_visit

ONE_CLICK = "One-Click"


@require_http_methods(["GET", "POST"])
@by_visit_link
def visit(request: HttpRequest, link: VisitLink, token: str) -> HttpResponse:
    """The appointment as it stands; the button says yes to the day that the page shows."""
    if request.method == "POST":
        shown = YesForm(request.POST).shown()
        try:
            if shown is not None:
                answers.say_yes(link=link, shown=shown, at=clock.now())
        except Refusal as refusal:
            messages.warning(request, refusal.sentence)
        return redirect("portal:visit", token=token)
    return render(request, "portal/visit.html", _words(link, token))


@require_http_methods(["GET", "POST"])
@by_visit_link
def visit_days(request: HttpRequest, link: VisitLink, token: str) -> HttpResponse:
    """Other days that fit; choosing one moves the visit."""
    if not _is_open(link):
        return redirect("portal:visit", token=token)
    days = days_offered(link.appointment, on=clock.today())
    form = DayForm(request.POST or None, days=days)
    if request.method == "POST" and form.is_valid():
        try:
            answers.choose_day(link=link, day=form.cleaned_data["day"], at=clock.now())
        except Refusal as refusal:
            days = days_offered(link.appointment, on=clock.today())
            form = DayForm(days=days)
            messages.warning(request, refusal.sentence)
        else:
            return redirect("portal:visit", token=token)
    context = {"form": form, "days": days, "wish_form": WishForm(), **_words(link, token)}
    return render(request, "portal/visit_days.html", context)


@require_http_methods(["GET", "POST"])
@by_visit_link
def visit_wish(request: HttpRequest, link: VisitLink, token: str) -> HttpResponse:
    """None of the days suits: the owner's own words for the office."""
    form = WishForm(request.POST or None)
    return _ask(request, link, token, form, OwnerWish.Kind.OTHER_DAY, "portal/visit_wish.html")


@require_http_methods(["GET", "POST"])
@by_visit_link
def visit_call(request: HttpRequest, link: VisitLink, token: str) -> HttpResponse:
    """The owner would rather be called."""
    form = CallMeForm(request.POST if request.method == "POST" else None)
    return _ask(request, link, token, form, OwnerWish.Kind.TELEPHONE, "portal/visit_call.html")


@require_http_methods(["GET", "POST"])
@by_visit_link
def visit_off(request: HttpRequest, link: VisitLink, token: str) -> HttpResponse:
    """The owner calls the visit off and says why."""
    if not _is_open(link):
        return redirect("portal:visit", token=token)
    form = CallOffForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            answers.call_off(link=link, because=form.cleaned_data["because"], at=clock.now())
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            return redirect("portal:visit", token=token)
    return render(request, "portal/visit_off.html", {"form": form, **_words(link, token)})


@require_safe
@by_visit_link
def visit_calendar(request: HttpRequest, link: VisitLink, token: str) -> HttpResponse:
    """The visit as a file for a calendar, for whoever got no mail that brought it."""
    content = invitation(
        link.appointment, company=the_company(), reader_email="", method=PUBLISH, at=clock.now()
    )
    return HttpResponse(
        content,
        content_type=f"text/calendar; charset=utf-8; method={PUBLISH}",
        headers={"Content-Disposition": 'attachment; filename="visit.ics"'},
    )


@require_POST
@owner_only
def open_visit(request: HttpRequest, ownership: Ownership) -> HttpResponse:
    """From the owner's page to the pages of the next visit."""
    appointment = next_visit(property_id=ownership.property_id, on=clock.today())
    if appointment is None:
        return redirect("portal:house")
    token = answers.make_visit_link(appointment=appointment, ownership=ownership, at=clock.now())
    return redirect("portal:visit", token=token)


@never_cache
@csrf_exempt
@require_http_methods(["GET", "POST"])
def no_offers(request: HttpRequest, token: str) -> HttpResponse:
    """Ends offers by e-mail: by the button, or by the mail program itself, which has no page to take a token from
    (RFC 8058)."""
    if request.method == "POST" and request.POST.get("List-Unsubscribe") == ONE_CLICK:
        return _no_offers(request, token)
    return _no_offers_page(request, token)


@csrf_protect
def _no_offers_page(request: HttpRequest, token: str) -> HttpResponse:
    return _no_offers(request, token)


def _no_offers(request: HttpRequest, token: str) -> HttpResponse:
    try:
        email = read_no_offers(token)
    except signing.BadSignature:
        return render(request, "portal/visit_closed.html", status=410)
    if request.method == "POST":
        stop(what=OptOut.What.OFFERS, address=email, at=clock.now())
    return render(request, "portal/no_offers.html", {"is_done": request.method == "POST", "email": email})


def _ask(
    request: HttpRequest, link: VisitLink, token: str, form: PortalForm, kind: str, template: str
) -> HttpResponse:
    if not _is_open(link):
        return redirect("portal:visit", token=token)
    if request.method == "POST" and form.is_valid():
        try:
            answers.wish(link=link, kind=kind, words=form.cleaned_data["words"], at=clock.now())
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, "Thank you. The office has your message and comes back to you.")
            return redirect("portal:visit", token=token)
    return render(request, template, {"form": form, **_words(link, token)})


def _is_open(link: VisitLink) -> bool:
    return state_of(link.appointment, on=clock.today()) in {"open", "confirmed"}


def _words(link: VisitLink, token: str) -> dict[str, Any]:
    appointment = link.appointment
    told = (link.told_on, link.told_from, link.told_until)
    return {
        "link": link,
        "token": token,
        "appointment": appointment,
        "visit": appointment.request,
        "house": appointment.request.system.property,
        "minutes": minutes_of(appointment),
        "state": state_of(appointment, on=clock.today()),
        "was_moved": told != (appointment.on, appointment.arrive_from, appointment.arrive_until),
        "wishes": appointment.wishes.filter(settled_at__isnull=True, ownership=link.ownership),
    }
