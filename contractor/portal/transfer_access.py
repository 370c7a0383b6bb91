"""Lets seller, buyer and agent into their own part of one sale, by the link that was opened in this browser."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render

from contractor.core import clock
from contractor.core.audit import Actor
from contractor.portal.access import remembered
from contractor.portal.forms import AskLinkForm
from contractor.warranties.models import Transfer, TransferLink

SESSION_KEY = "sale_link_ids"
# A buyer of a house with several systems has a link for each; nobody has more than a few.
MOST_REMEMBERED = 10
WITH_THE_SALE = ("warranty__terms", "warranty__system__property", "seller__person", "seller__property", "buyer")


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One person's part in one open sale. ``link`` is None for a seller who came from their own house's page."""

    transfer: Transfer
    role: str
    name: str
    link: TransferLink | None

    @property
    def actor(self) -> Actor:
        """Who writes, as the trail names them."""
        if self.role == TransferLink.Role.SELLER:
            return Actor(f"owner:{self.transfer.seller.person_id}", self.name)
        if self.role == TransferLink.Role.BUYER:
            return Actor(f"buyer:{self.transfer.buyer_id}", self.name)
        return Actor(f"agent:{self.link.pk if self.link else 0}", self.name)


def remember_part(request: HttpRequest, link: TransferLink) -> None:
    """Binds the opened link to this browser; the session's key changes, as at every sign-in."""
    request.session.cycle_key()
    known = [link_id for link_id in request.session.get(SESSION_KEY, []) if link_id != link.pk]
    request.session[SESSION_KEY] = [*known, link.pk][-MOST_REMEMBERED:]


def forget_parts(request: HttpRequest) -> None:
    """Closes every sale in this browser."""
    request.session.pop(SESSION_KEY, None)


def closed(request: HttpRequest, link: TransferLink | None) -> HttpResponseBase:
    """The page of a link that opens nothing any more: what became of the sale, where the link was a real one."""
    context = {"form": AskLinkForm(), "link": link, "state": link.transfer.state if link is not None else ""}
    return render(request, "portal/transfer_link_closed.html", context, status=410)


def part_only(role: TransferLink.Role) -> Callable[[Callable[..., HttpResponseBase]], Callable[..., HttpResponseBase]]:
    """Passes the reader's part of the sale in the address to the view.

    Without one it leads to the page that asks for a link, for a sale that is there as for one that is not; a link
    that was opened here and has ended since says so.
    """

    def decorate(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def guarded(request: HttpRequest, transfer_id: int, *args: Any, **kwargs: Any) -> HttpResponseBase:
            opened = TransferLink.objects.filter(
                pk__in=request.session.get(SESSION_KEY, []), transfer_id=transfer_id, role=role
            )
            link = opened.usable(clock.now()).select_related(*(f"transfer__{name}" for name in WITH_THE_SALE)).first()
            part = None
            if link is not None:
                part = Part(transfer=link.transfer, role=role, name=link.name, link=link)
            elif role == TransferLink.Role.SELLER:
                part = _from_the_house(request, transfer_id)
            if part is not None:
                return view(request, part, *args, **kwargs)
            ended = opened.select_related("transfer").last()
            return closed(request, ended) if ended is not None else redirect("portal:ask_link")

        guarded.part_of_sale = role  # type: ignore[attr-defined]  # read by the test that walks every address
        return guarded

    return decorate


def _from_the_house(request: HttpRequest, transfer_id: int) -> Part | None:
    """The seller's part for an owner whose house is open in this browser and who sells it."""
    ownership = remembered(request)
    if ownership is None:
        return None
    transfer = (
        Transfer.objects.filter(pk=transfer_id, seller=ownership, state=Transfer.State.ASKED)
        .select_related(*WITH_THE_SALE)
        .first()
    )
    if transfer is None:
        return None
    return Part(transfer=transfer, role=TransferLink.Role.SELLER, name=ownership.person.name, link=None)
