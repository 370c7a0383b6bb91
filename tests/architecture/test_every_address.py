"""Every address of the site with who may open it: walked with every role and verb, so that none is forgotten.

The table is written by hand. An address that it does not list fails here, and so does a view whose guard says
something else than the table.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, time, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

import pytest
from django.db import connection
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from contractor.accounts.access import DESK, EVERYBODY
from contractor.accounts.models import Role, User
from contractor.checkups.models import ChecklistItem, Finding
from contractor.core import clock
from contractor.core.audit import SYSTEM
from contractor.core.models import AuditEntry
from contractor.estimates.models import ClimateNormals
from contractor.office.actions import keep_register
from contractor.plans.actions.agreements import agree
from contractor.plans.actions.invoices import record_payment
from contractor.properties.actions import make_owner_link
from contractor.properties.models import Ownership
from contractor.systems.models import System
from contractor.tablet.models import Device, SetAside, TabletVisit
from contractor.visits.actions.working_days import set_working_pattern
from contractor.visits.board.actions.drafts import start_draft
from contractor.warranties.actions.inquiries import ask_about_sale
from contractor.warranties.actions.showing import show_terms
from contractor.warranties.actions.transfer_links import make_transfer_link
from contractor.warranties.claim_money import ClaimCost, Goodwill
from contractor.warranties.models import Claim, TermsShown, Warranty
from tests.factories import ComponentFactory, PersonFactory, SystemFactory
from tests.office.factories import (
    appointment,
    asked_back,
    asked_transfer,
    estimate,
    finding,
    finished_checkup,
    issued_warranty,
    live_through,
    outside_record,
    wanted_visit,
)
from tests.plans.made import YES, new_offer

PUBLIC, OWNER = "public", "owner"
SELLER, BUYER, AGENT = "seller", "buyer", "agent"
SALE = (SELLER, BUYER, AGENT)
TECHNICIAN, MANAGER = (Role.TECHNICIAN,), (Role.MANAGER,)
GET, POST, BOTH = ("GET",), ("POST",), ("GET", "POST")

# Name -> who may open it, and with which methods. "owner" is the owner of a house, let in by a secret link; seller,
# buyer and agent are let into their part of one sale by links of their own.
TABLE: dict[str, tuple[str | tuple[Role, ...], tuple[str, ...]]] = {
    "accounts:front_door": (PUBLIC, GET),
    "accounts:sign_in": (PUBLIC, BOTH),
    "accounts:sign_out": (PUBLIC, POST),
    "accounts:forgotten": (PUBLIC, BOTH),
    "accounts:new_password": (PUBLIC, BOTH),
    "accounts:staff": (MANAGER, GET),
    "accounts:add_staff": (MANAGER, BOTH),
    "accounts:change_staff": (MANAGER, BOTH),
    "accounts:send_password_link": (MANAGER, POST),
    "accounts:company": (MANAGER, BOTH),
    "checkups:my_round": (TECHNICIAN, GET),
    "checkups:round_day": (EVERYBODY, GET),
    "checkups:begin": (TECHNICIAN, POST),
    "checkups:could_not": (TECHNICIAN, BOTH),
    "checkups:done": (EVERYBODY, BOTH),
    "checkups:checkup": (EVERYBODY, GET),
    "checkups:answer": (TECHNICIAN, POST),
    "checkups:photo_add": (TECHNICIAN, POST),
    "checkups:finding_add": (TECHNICIAN, POST),
    "checkups:finding_close": (EVERYBODY, POST),
    "checkups:swap": (TECHNICIAN, BOTH),
    "checkups:sign": (TECHNICIAN, POST),
    "checkups:finish": (TECHNICIAN, POST),
    "checkups:report": (EVERYBODY, GET),
    "checkups:photo": (EVERYBODY, GET),
    "checkups:outside_records": (DESK, GET),
    "checkups:decide_record": (DESK, POST),
    "checkups:record_document": (DESK, GET),
    "checkups:checklists": (MANAGER, GET),
    "checkups:checklist": (MANAGER, GET),
    "checkups:checklist_file": (MANAGER, GET),
    "checkups:checklist_upload": (MANAGER, BOTH),
    "checkups:checklist_copy": (MANAGER, POST),
    "checkups:checklist_publish": (MANAGER, POST),
    "checkups:item": (MANAGER, BOTH),
    "estimates:climate": (MANAGER, GET),
    "estimates:climate_add": (MANAGER, BOTH),
    "estimates:climate_change": (MANAGER, BOTH),
    "estimates:to_replace": (DESK, GET),
    "estimates:why": (EVERYBODY, GET),
    "estimates:system": (EVERYBODY, GET),
    "estimates:what_if": (DESK, GET),
    "estimates:recommendation": (DESK, GET),
    "notices:log": (DESK, GET),
    "notices:notice": (DESK, GET),
    "notices:letter": (DESK, GET),
    "notices:try_again": (DESK, POST),
    "notices:posted": (DESK, POST),
    "notices:post": (DESK, BOTH),
    "notices:post_letters": (DESK, GET),
    "notices:answers": (DESK, GET),
    "notices:settle_answer": (DESK, POST),
    "notices:text_received": (PUBLIC, POST),
    "notices:text_failed": (PUBLIC, POST),
    "office:today": (DESK, GET),
    "office:search": (DESK, GET),
    "office:due": (DESK, GET),
    "office:houses": (DESK, GET),
    "office:house": (DESK, GET),
    "office:audit": (DESK, GET),
    "office:send_link": (DESK, POST),
    "office:setup": (MANAGER, GET),
    "office:import_register": (DESK, BOTH),
    "office:import_template": (DESK, GET),
    "office:import_review": (DESK, GET),
    "office:import_take_over": (DESK, POST),
    "office:import_forget": (DESK, POST),
    "office:import_report": (DESK, GET),
    "office:import_bad_rows": (DESK, GET),
    "plans:agreements": (DESK, GET),
    "plans:agreement": (DESK, GET),
    "plans:agree": (DESK, BOTH),
    "plans:offer_to_house": (DESK, BOTH),
    "plans:take_over": (DESK, BOTH),
    "plans:cancel": (DESK, BOTH),
    "plans:renew": (DESK, BOTH),
    "plans:invoice": (DESK, GET),
    "plans:pay": (DESK, BOTH),
    "plans:correct_payment": (DESK, BOTH),
    "plans:offers": (MANAGER, GET),
    "plans:draft_offer": (MANAGER, BOTH),
    "plans:offer": (MANAGER, BOTH),
    "plans:change_offer": (MANAGER, BOTH),
    "plans:renewal_rules": (MANAGER, GET),
    "plans:renewal_rule": (MANAGER, BOTH),
    "plans:revenue": (MANAGER, GET),
    "plans:revenue_table": (MANAGER, GET),
    "portal:house": (OWNER, GET),
    "portal:ask_link": (PUBLIC, BOTH),
    "portal:leave": (PUBLIC, POST),
    "portal:link": (PUBLIC, BOTH),
    "portal:report": (OWNER, GET),
    "portal:warranty_document": (OWNER, GET),
    "portal:certificate": (OWNER, GET),
    "portal:outside_record": (OWNER, BOTH),
    "portal:plan_agree": (OWNER, BOTH),
    "portal:plan_cancel": (OWNER, BOTH),
    "portal:plan_renew": (OWNER, BOTH),
    "portal:plan_invoice": (OWNER, GET),
    "portal:start_sale": (OWNER, BOTH),
    "portal:report_claim": (OWNER, BOTH),
    "portal:claim": (OWNER, GET),
    "portal:claim_photo": (OWNER, GET),
    "portal:claim_answer": (OWNER, BOTH),
    "portal:claim_appeal": (OWNER, BOTH),
    "portal:claim_letter": (OWNER, GET),
    "portal:own_acceptance": (OWNER, GET),
    "portal:transfer_link": (PUBLIC, BOTH),
    "portal:transfer_seller": (SELLER, GET),
    "portal:seller_moves_closing": (SELLER, BOTH),
    "portal:seller_withdraws": (SELLER, BOTH),
    "portal:transfer_buyer": (BUYER, GET),
    "portal:buyer_document": (BUYER, GET),
    "portal:buyer_accepts": (BUYER, BOTH),
    "portal:buyer_signs_paper": (BUYER, BOTH),
    "portal:buyer_takes_back": (BUYER, POST),
    "portal:transfer_agent": (AGENT, GET),
    "portal:open_visit": (OWNER, POST),
    "portal:no_offers": (PUBLIC, BOTH),
    "portal:visit": (PUBLIC, BOTH),
    "portal:visit_days": (PUBLIC, BOTH),
    "portal:visit_wish": (PUBLIC, BOTH),
    "portal:visit_call": (PUBLIC, BOTH),
    "portal:visit_off": (PUBLIC, BOTH),
    "portal:visit_calendar": (PUBLIC, GET),
    "portal:terms": (PUBLIC, BOTH),
    "portal:terms_document": (PUBLIC, GET),
    "portal:check": (PUBLIC, BOTH),
    "portal:check_token": (PUBLIC, GET),
    "portal:check_upload": (PUBLIC, POST),
    "portal:ask_about_sale": (PUBLIC, BOTH),
    "properties:register": (DESK, BOTH),
    "properties:positions": (DESK, GET),
    "properties:position": (DESK, BOTH),
    "properties:change": (DESK, BOTH),
    "properties:owner": (DESK, BOTH),
    "properties:change_person": (DESK, BOTH),
    "properties:revoke_links": (DESK, POST),
    "systems:as_built": (EVERYBODY, BOTH),
    "systems:install": (DESK, BOTH),
    "systems:component_add": (DESK, BOTH),
    "systems:wall_add": (DESK, BOTH),
    "systems:component": (DESK, GET),
    "systems:replace": (DESK, BOTH),
    "systems:retire": (DESK, BOTH),
    "systems:correct": (DESK, BOTH),
    "systems:catalogue": (DESK, GET),
    "systems:catalogue_add": (DESK, BOTH),
    "tablet:shell": (PUBLIC, GET),
    "tablet:worker": (PUBLIC, GET),
    "tablet:me": (PUBLIC, GET),
    "tablet:devices": (PUBLIC, POST),
    "tablet:pack": (PUBLIC, GET),
    "tablet:events": (PUBLIC, POST),
    "tablet:ready": (PUBLIC, POST),
    "tablet:on_the_way": (PUBLIC, POST),
    "tablet:photo": (PUBLIC, GET),
    "tablet:tablets": (DESK, GET),
    "tablet:device": (DESK, BOTH),
    "tablet:device_allow": (DESK, POST),
    "tablet:set_aside": (DESK, GET),
    "tablet:set_aside_one": (DESK, BOTH),
    "tablet:visit": (DESK, BOTH),
    "tablet:choose": (DESK, POST),
    "tablet:hand_in_file": (DESK, BOTH),
    "visits:board": (DESK, GET),
    "visits:plan_stretch": (DESK, BOTH),
    "visits:upset": (DESK, BOTH),
    "visits:draft": (DESK, GET),
    "visits:draft_progress": (DESK, GET),
    "visits:draft_retry": (DESK, POST),
    "visits:draft_card": (DESK, BOTH),
    "visits:draft_move": (DESK, POST),
    "visits:draft_lock": (DESK, POST),
    "visits:draft_step": (DESK, POST),
    "visits:draft_update": (DESK, POST),
    "visits:draft_drop": (DESK, POST),
    "visits:draft_review": (DESK, GET),
    "visits:draft_accept": (DESK, POST),
    "visits:load_list": (DESK, GET),
    "visits:my_week": (TECHNICIAN, GET),
    "visits:round_sheet": (EVERYBODY, GET),
    "visits:rounds": (DESK, GET),
    "visits:round_day": (DESK, GET),
    "visits:put_in_order": (DESK, POST),
    "visits:give": (DESK, BOTH),
    "visits:withdraw": (DESK, BOTH),
    "visits:own_trip": (DESK, POST),
    "visits:move": (DESK, BOTH),
    "visits:confirm": (DESK, POST),
    "visits:cancel": (DESK, BOTH),
    "visits:could_not": (DESK, BOTH),
    "visits:ask": (DESK, BOTH),
    "visits:ask_where": (DESK, GET),
    "visits:technicians": (DESK, GET),
    "visits:working_days": (DESK, GET),
    "visits:usual_week": (DESK, BOTH),
    "visits:add_leave": (DESK, BOTH),
    "visits:add_own_day": (DESK, BOTH),
    "visits:take_back_leave": (DESK, POST),
    "visits:clear_own_day": (DESK, POST),
    "visits:calendar": (DESK, BOTH),
    "visits:clear_company_day": (DESK, POST),
    "visits:on_the_way": (EVERYBODY, POST),
    "visits:wishes": (DESK, GET),
    "visits:settle_wish": (DESK, POST),
    "visits:my_calendar": (EVERYBODY, BOTH),
    "visits:revoke_feed": (EVERYBODY, POST),
    "visits:feed": (PUBLIC, GET),
    "warranties:liability": (MANAGER, GET),
    "warranties:liability_rows": (MANAGER, GET),
    "warranties:liability_table": (MANAGER, GET),
    "warranties:liability_paper": (MANAGER, GET),
    "warranties:close_liability": (MANAGER, POST),
    "warranties:terms": (MANAGER, GET),
    "warranties:draft_terms": (MANAGER, BOTH),
    "warranties:terms_edition": (MANAGER, GET),
    "warranties:terms_document": (MANAGER, GET),
    "warranties:compare_terms": (MANAGER, GET),
    "warranties:check_terms": (MANAGER, POST),
    "warranties:shown_list": (DESK, GET),
    "warranties:shown_terms": (DESK, GET),
    "warranties:shown_document": (DESK, GET),
    "warranties:show_terms": (DESK, BOTH),
    "warranties:show_terms_at": (DESK, BOTH),
    "warranties:change_terms": (MANAGER, BOTH),
    "warranties:issue": (DESK, BOTH),
    "warranties:warranty": (DESK, GET),
    "warranties:document": (DESK, GET),
    "warranties:void": (MANAGER, BOTH),
    "warranties:waive": (MANAGER, BOTH),
    "warranties:issue_certificate": (DESK, POST),
    "warranties:certificate": (DESK, GET),
    "warranties:claims": (DESK, GET),
    "warranties:report_claim": (DESK, BOTH),
    "warranties:claim": (DESK, BOTH),
    "warranties:claim_photo": (DESK, GET),
    "warranties:withdraw_claim": (DESK, POST),
    "warranties:ask_owner": (DESK, BOTH),
    "warranties:write_answer": (DESK, BOTH),
    "warranties:claim_visit": (DESK, BOTH),
    "warranties:claim_letter": (DESK, GET),
    "warranties:record_appeal": (DESK, BOTH),
    "warranties:decide_appeal": (DESK, BOTH),
    "warranties:costs": (DESK, GET),
    "warranties:costs_table": (DESK, GET),
    "warranties:book_cost": (DESK, BOTH),
    "warranties:undo_cost": (DESK, BOTH),
    "warranties:give_goodwill": (MANAGER, BOTH),
    "warranties:take_goodwill_back": (MANAGER, BOTH),
    "warranties:transfers": (DESK, GET),
    "warranties:ask_transfer": (DESK, BOTH),
    "warranties:inquiry": (DESK, BOTH),
    "warranties:add_inquiry_to_sale": (DESK, POST),
    "warranties:decline_inquiry": (DESK, BOTH),
    "warranties:transfer": (DESK, GET),
    "warranties:move_closing": (DESK, BOTH),
    "warranties:transfer_fee": (DESK, POST),
    "warranties:transfer_accepted": (DESK, POST),
    "warranties:transfer_let_go": (MANAGER, POST),
    "warranties:add_agent": (DESK, POST),
    "warranties:send_transfer_link": (DESK, POST),
    "warranties:revoke_transfer_links": (DESK, POST),
    "warranties:acceptance_paper": (DESK, GET),
    "warranties:acceptance": (DESK, GET),
    "warranties:set_aside": (DESK, BOTH),
    "warranties:review_transfer": (DESK, GET),
    "warranties:issue_transfer": (DESK, POST),
    "warranties:withdraw_transfer": (DESK, BOTH),
    "warranties:revoke_transfer": (MANAGER, BOTH),
}

# Pages about one appointment, let in by the token in their address; and the end of offers, by a signed one.
BY_VISIT_LINK = (
    "portal:visit",
    "portal:visit_days",
    "portal:visit_wish",
    "portal:visit_call",
    "portal:visit_off",
    "portal:visit_calendar",
    "portal:no_offers",
)
# What public pages answer to somebody nobody knows: a page, the way on, or "closed" to a link that nobody was sent.
PUBLIC_ANSWERS = {
    "accounts:front_door": 302,
    "accounts:sign_out": 302,
    "accounts:new_password": 410,
    "portal:leave": 302,
    "portal:terms": 410,  # nobody was sent this link
    "portal:terms_document": 410,
    **dict.fromkeys(BY_VISIT_LINK, 410),  # nobody was sent this link
    "visits:feed": 404,  # nobody has this calendar address
    "notices:text_received": 403,  # the carrier brings its word
    "notices:text_failed": 403,
    # The tablet's door answers a stranger in JSON: sign in, or bring the key of a registered tablet.
    "tablet:me": 401,
    "tablet:devices": 401,
    "tablet:pack": 401,
    "tablet:events": 401,
    "tablet:ready": 401,
    "tablet:on_the_way": 401,
    "tablet:photo": 401,
}
# The next chunk of a photo.
TAKES_PATCH = {"tablet:photo"}
# A link that nobody was sent is no secret: the page of the button is the same for all, the press says "closed".
CLOSED_LINK = 410
# Papers are made when they are first opened and kept from then on; their own tests open them.
PAPERS = {
    "checkups:report",
    "checkups:photo",
    "checkups:record_document",
    "portal:claim_photo",
    "warranties:claim_photo",
    "portal:claim_letter",
    "warranties:claim_letter",
    "notices:letter",
    "notices:post_letters",
    "warranties:document",
    "warranties:certificate",
    "plans:invoice",
    "portal:plan_invoice",
    "portal:report",
    "portal:warranty_document",
    "portal:certificate",
    "portal:buyer_document",
    "portal:own_acceptance",
    "visits:round_sheet",
    "warranties:acceptance_paper",
    "warranties:acceptance",
}
EXISTING_ANSWERS = {
    "warranties:decide_appeal": 302,  # there is no appeal of this claim: the claim's own page
    **dict.fromkeys(BY_VISIT_LINK, 410),  # the token is that of a certificate
    "visits:feed": 404,
    "visits:draft_progress": 302,  # it is planned: on to the board
    "warranties:change_terms": 302,  # the edition is published: there is nothing to edit any more
    "portal:terms": 410,  # the token is that of a certificate
    "portal:terms_document": 410,
    "accounts:front_door": 302,  # leads on instead of showing a page
    "accounts:new_password": 410,  # nobody was sent this link
    "tablet:me": 401,  # nobody is signed in
    "tablet:pack": 401,
    "tablet:photo": 401,
    "checkups:swap": 302,  # back to the check-up: it is finished, so nothing is swapped any more
    "estimates:recommendation": 302,  # back to the question: nothing was asked
}
WRITES = ("INSERT", "UPDATE", "DELETE", "REPLACE")
NAMES = sorted(TABLE)


@dataclass(frozen=True)
class Address:
    """One URL pattern: its name, its view, and the kinds of what stands in it."""

    name: str
    view: Callable[..., Any]
    arguments: dict[str, str]

    def with_values(self, value: Callable[[str, str], object]) -> str:
        return reverse(self.name, kwargs={name: value(name, kind) for name, kind in self.arguments.items()})


def walk(resolver: URLResolver, *, space: str = "", seen: dict[str, str] | None = None) -> Iterator[Address]:
    for pattern in resolver.url_patterns:
        kinds = {**(seen or {}), **{n: type(c).__name__ for n, c in pattern.pattern.converters.items()}}
        if isinstance(pattern, URLResolver):
            inside = f"{space}{pattern.namespace}:" if pattern.namespace else space
            yield from walk(pattern, space=inside, seen=kinds)
        elif isinstance(pattern, URLPattern):
            yield Address(f"{space}{pattern.name}", pattern.callback, kinds)


ADDRESSES = {address.name: address for address in walk(get_resolver())}


def missing(name: str, kind: str) -> object:
    """Something well formed that is not there."""
    return {
        "IntConverter": 987_654_321,
        "DayConverter": date(2026, 5, 4),
        "UUIDConverter": UUID(int=7),
        "LineConverter": "987654-0",
        "StringConverter": "n" * 43,
    }[kind]


def test_every_address_stands_in_the_table_and_nothing_else_does() -> None:
    unlisted = sorted(set(ADDRESSES) - set(TABLE))
    gone = sorted(set(TABLE) - set(ADDRESSES))
    assert not unlisted, f"Say in TABLE who may open: {', '.join(unlisted)}"
    assert not gone, f"No address has these names any more: {', '.join(gone)}"


@pytest.mark.parametrize("name", NAMES)
def test_the_guard_of_each_view_says_the_same_as_the_table(name: str) -> None:
    who, _ = TABLE[name]
    view = ADDRESSES[name].view
    assert getattr(view, "owner_only", False) == (who == OWNER)
    assert getattr(view, "part_of_sale", None) == (who if who in SALE else None)
    roles = getattr(view, "allowed_roles", None)
    assert (set(roles) if roles else None) == (None if who in (PUBLIC, OWNER, *SALE) else set(who))


@pytest.fixture
def staff(nora: User, theo: User, ruth: User) -> dict[Role, User]:
    return {Role.OFFICE: nora, Role.TECHNICIAN: theo, Role.MANAGER: ruth}


@pytest.mark.parametrize("name", NAMES)
def test_a_stranger_is_shown_the_way_in_and_nothing_else(name: str, staff: dict[Role, User]) -> None:
    who, methods = TABLE[name]
    address = ADDRESSES[name].with_values(missing)
    before = AuditEntry.objects.count()
    for method in ("GET", "POST"):
        answer = Client().generic(method, address)
        if method not in methods:
            assert answer.status_code == 405
        elif who == PUBLIC:
            closed = name in {"portal:link", "portal:transfer_link"} and method == "POST"
            assert answer.status_code == (CLOSED_LINK if closed else PUBLIC_ANSWERS.get(name, 200))
        elif who == OWNER or who in SALE:
            assert (answer.status_code, answer["Location"]) == (302, reverse("portal:ask_link"))
        else:
            assert answer.status_code == 302
            assert answer["Location"].startswith(reverse("accounts:sign_in") + "?next=")
    assert AuditEntry.objects.count() == before


@pytest.mark.parametrize("name", NAMES)
def test_each_role_gets_what_the_table_says_and_a_missing_object_is_not_found(
    name: str, staff: dict[Role, User], signed_in_as: Callable[[User], Client]
) -> None:
    who, methods = TABLE[name]
    address = ADDRESSES[name]
    before = AuditEntry.objects.count()
    for role, user in staff.items():
        browser = signed_in_as(user)
        for method in ("GET", "POST") if who != PUBLIC else ():
            answer = browser.generic(method, address.with_values(missing))
            if method not in methods:
                assert answer.status_code == 405
            elif who == OWNER or who in SALE:
                assert (answer.status_code, answer["Location"]) == (302, reverse("portal:ask_link"))
            else:
                expected = 403 if role not in who else 404 if address.arguments else 200
                assert answer.status_code == expected, f"{method} {name} as {role}"
    assert AuditEntry.objects.count() == before, "An empty request wrote something."


def test_no_address_takes_another_method(staff: dict[Role, User], signed_in_as: Callable[[User], Client]) -> None:
    browser = signed_in_as(staff[Role.MANAGER])
    for name in NAMES:
        for method in ("PUT", "PATCH", "DELETE"):
            if method == "PATCH" and name in TAKES_PATCH:
                continue
            answer = browser.generic(method, ADDRESSES[name].with_values(missing))
            assert answer.status_code == 405, f"{method} {name}"


def test_a_forged_request_is_refused_before_anything_is_looked_at(staff: dict[Role, User]) -> None:
    browser = Client(enforce_csrf_checks=True)
    browser.force_login(staff[Role.MANAGER])
    for name in NAMES:
        if "POST" in TABLE[name][1]:
            assert browser.post(ADDRESSES[name].with_values(missing)).status_code == 403, name


@dataclass
class Lived:
    """A house with a year of history, and the keys under which addresses find it."""

    keys: dict[str, object]
    another_technician: int
    system_of_another: int
    component_of_another: int
    checkup_of_another: int
    stop_of_another: int
    finding_of_another: UUID

    def value(self, name: str, kind: str) -> object:
        return self.keys[name] if name in self.keys else missing(name, kind)


def kept_upload(user: User) -> UUID:
    register = b"Customer,Address,Town,ZIP,Installed\r\nIris,12 Millrace Lane,Larkmere,17099,5/14/2019\r\n"
    return keep_register(data=register, name="register.csv", by_user=user, at=clock.now()).upload_id


def shown_terms(warranty: Warranty, user: User) -> TermsShown:
    return show_terms(
        terms_id=warranty.terms_id,
        property_id=warranty.system.property_id,
        name="Iris Holloway",
        email="",
        way=TermsShown.Way.PRINTED,
        shown_by=user,
        at=clock.now(),
    )


def asked_about(certificate_id: int) -> int:
    """What a closing office asks with a certificate in hand."""
    asked = {"role": "closing", "name": "Larkmere Closings", "email": "", "phone": "(555) 555-0177", "message": ""}
    return ask_about_sale(certificate_id=certificate_id, closing_on=None, at=clock.now(), **asked).pk


def open_draft(user: User, technician: User) -> int:
    """A draft of the board for the coming two weeks."""
    at, on = clock.now(), clock.today()
    hours = dict.fromkeys(range(7), (time(8), time(17)))
    set_working_pattern(technician_id=technician.pk, valid_from=on, hours=hours, by=user.actor, at=at)
    return start_draft(first_on=on, last_on=on + timedelta(days=13), by_user=user, at=at).pk


def agreed_plan(ownership: Ownership, manager: User) -> dict[str, object]:
    """A care plan with a part payment, and the keys under which addresses find it."""
    offer, at = new_offer(manager, clock.now()), clock.now()
    plan = agree(
        property_id=ownership.property_id,
        offer_id=offer.pk,
        from_on=clock.today(),
        renews="asks",
        consent=YES,
        by=manager.actor,
        at=at,
    )
    invoice = plan.invoices.get()
    paid = {"amount": Decimal("10.00"), "way": "cash", "on": clock.today()}
    payment = record_payment(invoice_id=invoice.pk, by_user=manager, at=at, **paid)
    keys = {"agreement_id": plan.pk, "invoice_id": invoice.pk, "payment_id": payment.pk}
    return {**keys, "offer_id": offer.pk, "state": "NY"}


def booked_on(claim: Claim, manager: User) -> dict[str, object]:
    """A cost and goodwill on a claim."""
    at, amount = clock.now(), Decimal("50.00")
    cost = ClaimCost.objects.create(
        claim=claim, kind="labor", amount=amount, on=claim.reported_on, note="1 h", booked_by=manager, booked_at=at
    )
    given = Goodwill.objects.create(claim=claim, amount=amount, because="A gift", given_by=manager, given_at=at)
    return {"cost_id": cost.pk, "goodwill_id": given.pk}


@pytest.fixture
def lived(system: System, ownership: Ownership, staff: dict[Role, User]) -> Lived:
    theo, on = staff[Role.TECHNICIAN], date(2026, 5, 4)
    warranty = issued_warranty(system, ownership)
    live_through(system, warranty, theo, years=1)
    paper = warranty.certificates.get()
    checkup = system.checkups.get()
    item = ChecklistItem.objects.create(
        checklist=checkup.checklist, code="look", step="pit", position=1, kind="check", prompt="Look into the pit"
    )
    wanted = wanted_visit(system, target_on=on, kind="repair", occasion="to be given")
    stop = appointment(wanted_visit(system, target_on=on, occasion="given"), theo, on)
    device = Device.objects.create(pk=UUID(int=9), name="Tablet 1", registered_at=clock.now(), registered_by=theo)
    aside = SetAside.objects.create(raw=b"{", sha256="0" * 64, sentence="No JSON.", received_at=clock.now())
    TabletVisit.objects.create(appointment=stop, last_event_at=clock.now())
    record = outside_record(system, done_on=on)
    battery = system.components.latest("pk")
    another = User.objects.create(email="ana@example.com", name="Ana Delgado", role=Role.TECHNICIAN)
    other_system = SystemFactory()
    other_stop = appointment(wanted_visit(other_system, target_on=on), another, on)
    other = finished_checkup(wanted_visit(other_system, target_on=on, occasion="another"), another, on)
    region = ClimateNormals.objects.create(
        name="Tamarack County",
        latitude_deg=40.9,
        rain_mm=[80.0] * 12,
        temperature_c=[9.0] * 12,
        frost_depth_m=0.9,
        snow_depth_m=0.3,
        ordinary_outage_h=2.0,
        storm_outage_h=12.0,
        source="invented for this test",
    )
    keys: dict[str, object] = {
        "property_id": system.property_id,
        "person_id": ownership.person_id,
        "system_id": system.pk,
        "component_id": battery.pk,
        "checkup_id": checkup.pk,
        "checklist_id": checkup.checklist_id,
        "item_id": item.pk,
        "finding_id": Finding.objects.get(checkup=checkup).pk,
        "record_id": record.pk,
        "appointment_id": stop.pk,
        "device_id": device.pk,
        "aside_id": aside.pk,
        "request_id": wanted.pk,
        "draft_id": open_draft(staff[Role.OFFICE], theo),
        "year": on.year,
        "technician_id": theo.pk,
        "user_id": theo.pk,
        "warranty_id": warranty.pk,
        "terms_id": warranty.terms_id,
        "shown_id": shown_terms(warranty, staff[Role.OFFICE]).pk,
        "claim_id": warranty.claims.get().pk,
        "question_id": asked_back(warranty.claims.get(), by=staff[Role.OFFICE]).pk,
        **booked_on(warranty.claims.get(), staff[Role.MANAGER]),
        "transfer_id": asked_transfer(warranty, ownership, PersonFactory(), closing_on=on).pk,
        "certificate_id": paper.pk,
        "inquiry_id": asked_about(paper.pk),
        "climate_id": region.pk,
        "notice_id": system.property.notices.latest("pk").pk,
        "token": paper.token,
        "upload_id": kept_upload(staff[Role.OFFICE]),
        **agreed_plan(ownership, staff[Role.MANAGER]),
    }
    theirs = estimate(ComponentFactory(system=other_system, part_kind="battery"), replace_by=on).component_id
    return Lived(keys, another.pk, other_system.pk, theirs, other.pk, other_stop.pk, finding(other).pk)


class WriteSeen(AssertionError):
    pass


def no_writes(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
    if sql.lstrip().upper().startswith(WRITES) and "django_session" not in sql:
        raise WriteSeen(sql)
    return execute(sql, params, many, context)


def test_looking_changes_nothing(
    lived: Lived, staff: dict[Role, User], ownership: Ownership, signed_in_as: Callable[[User], Client]
) -> None:
    transfer_id = lived.keys["transfer_id"]
    browsers = {OWNER: opened_by_owner(ownership), PUBLIC: Client()}
    browsers |= {role: opened_by_part(transfer_id, role) for role in SALE}
    for name in NAMES:
        who, methods = TABLE[name]
        if "GET" not in methods or name in PAPERS:
            continue
        browser = browsers[who] if isinstance(who, str) else signed_in_as(staff[next(iter(who))])
        with connection.execute_wrapper(no_writes):
            answer = browser.get(ADDRESSES[name].with_values(lived.value))
        assert answer.status_code == EXISTING_ANSWERS.get(name, 200), name


def test_what_belongs_to_another_technician_answers_like_something_missing(
    lived: Lived, staff: dict[Role, User], signed_in_as: Callable[[User], Client]
) -> None:
    browser = signed_in_as(staff[Role.TECHNICIAN])
    foreign = {
        **lived.keys,
        "system_id": lived.system_of_another,
        "component_id": lived.component_of_another,
        "checkup_id": lived.checkup_of_another,
        "appointment_id": lived.stop_of_another,
        "technician_id": lived.another_technician,
        "finding_id": lived.finding_of_another,
        "photo_id": UUID(int=7),
    }
    for name in NAMES:
        who, methods = TABLE[name]
        if Role.TECHNICIAN not in who or not ADDRESSES[name].arguments:
            continue
        address = ADDRESSES[name].with_values(lambda name, kind: foreign.get(name) or missing(name, kind))
        for method in methods:
            assert browser.generic(method, address).status_code == 404, f"{method} {name}"


def test_a_part_of_one_sale_opens_no_other_part_and_no_other_sale(lived: Lived) -> None:
    transfer_id = lived.keys["transfer_id"]
    browsers = {role: opened_by_part(transfer_id, role) for role in SALE}
    for name in NAMES:
        who, methods = TABLE[name]
        if who not in SALE:
            continue
        others = [(browsers[role], lived.value) for role in SALE if role != who]
        for browser, value in [*others, (browsers[str(who)], missing)]:
            for method in methods:
                answer = browser.generic(method, ADDRESSES[name].with_values(value))
                assert (answer.status_code, answer["Location"]) == (302, reverse("portal:ask_link")), name


def test_what_belongs_to_another_house_answers_an_owner_like_something_missing(
    lived: Lived, neighbour: Ownership
) -> None:
    browser = opened_by_owner(neighbour)
    for name in NAMES:
        who, methods = TABLE[name]
        if who != OWNER or not ADDRESSES[name].arguments:
            continue
        for method in methods:
            answer = browser.generic(method, ADDRESSES[name].with_values(lived.value))
            assert answer.status_code == 404, f"{method} {name}"


def opened_by_owner(ownership: Ownership) -> Client:
    """A browser in which the owner has pressed the button of a secret link."""
    browser = Client()
    token = make_owner_link(ownership_id=ownership.pk, by=SYSTEM, at=clock.now())
    answer = browser.post(reverse("portal:link", args=[token]))
    assert answer.status_code == 302
    return browser


def opened_by_part(transfer_id: object, role: str) -> Client:
    """A browser in which somebody has opened their part of a sale."""
    browser = Client()
    token = make_transfer_link(
        transfer_id=int(str(transfer_id)), role=role, name="N.", email=f"{role}@example.com", by=SYSTEM, at=clock.now()
    )
    answer = browser.post(reverse("portal:transfer_link", args=[token]))
    assert answer.status_code == 302
    return browser
