"""The page on which the office looks at an offer before it is sent."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.notices.models import Notice
from contractor.plans.actions.offering import offer_plan
from contractor.plans.queries import open_offers
from contractor.plans.to_offer import to_offer
from contractor.properties.models import Property

LONGEST_NUMBER = 9


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def offer_to_house(request: HttpRequest, property_id: int) -> HttpResponse:
    """Shows what the owner would read, or why nothing may be sent; sends it by its button."""
    house = get_object_or_404(Property, pk=property_id)
    offers = list(open_offers())
    asked = _number(request.POST.get("offer") or request.GET.get("offer") or "")
    chosen = next((offer for offer in offers if offer.pk == asked), offers[0] if offers and not asked else None)
    context: dict[str, Any] = {"house": house, "offers": offers, "chosen": chosen}
    try:
        if request.method == "POST":
            sent = offer_plan(
                property_id=property_id, offer_id=asked or 0, by=signed_in(request).actor, at=clock.now()
            )
            is_letter = sent.channel == Notice.Channel.LETTER
            way = "It lies with the letters to print." if is_letter else "It goes by e-mail."
            messages.success(request, f"Offered to {sent.person.name}. {way}")
            return redirect(f"{reverse('office:house', args=[property_id])}#plan")
        found = to_offer(property_id=property_id, offer_id=chosen.pk if chosen else 0, on=clock.today())
    except Refusal as refusal:
        context["refused"] = refusal.sentence
    else:
        context |= {"found": found, "words": found.preview()}
    return render(request, "plans/offer_to_house.html", context)


def _number(text: str) -> int | None:
    return int(text) if text.isdecimal() and len(text) <= LONGEST_NUMBER else None
