"""A sale at the pages of seller, buyer and agent: who sees what, what each may do, and what never shows."""

import io
import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.core import mail
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from contractor.accounts.models import User
from contractor.core import clock
from contractor.core.audit import SYSTEM, Actor
from contractor.notices.models import Notice
from contractor.properties.models import Ownership, Person
from contractor.warranties.actions import issuing, transfer_links, transfers
from contractor.warranties.models import Acceptance, Transfer, TransferLink, Warranty
from tests.warranties.factories import checkup_done

ASK = reverse("portal:ask_link")
CLOSING = date(2026, 5, 29)
OpenPart = Callable[[str], Client]
PDF = b"%PDF-1.7\n% signed\n"


@pytest.fixture
def sale(warranty: Warranty, buyer: Person, theo: User, office: Actor, at: datetime) -> Transfer:
    """Closing on May 29, 2026. A letter and a report of Iris's lie in the house; a finding is open."""
    for year in (2021, 2022, 2023, 2024, 2025):
        checkup_done(warranty.system, date(year, 5, 10), theo, finding="watch" if year == 2025 else "")
    return transfers.ask_transfer(
        warranty_id=warranty.pk,
        buyer_id=buyer.pk,
        closing_on=CLOSING,
        notified_on=date(2026, 5, 1),
        by=office,
        at=at,
    )


@pytest.fixture
def part_link(sale: Transfer, at: datetime) -> Callable[[str], str]:
    """The address of a fresh link to a part of the sale."""

    def make(role: str) -> str:
        name, email = {
            "seller": ("Iris Holloway", "iris@example.com"),
            "buyer": ("Ben Okafor", "ben@example.com"),
            "agent": ("Ada Lorimer", "ada@example.com"),
        }[role]
        token = transfer_links.make_transfer_link(
            transfer_id=sale.pk, role=role, name=name, email=email, by=SYSTEM, at=at
        )
        return reverse("portal:transfer_link", args=[token])

    return make


@pytest.fixture
def open_part(part_link: Callable[[str], str]) -> OpenPart:
    def opened(role: str) -> Client:
        browser = Client()
        browser.post(part_link(role))
        return browser

    return opened


def shown(browser: Client, name: str, sale: Transfer) -> str:
    answer = browser.get(reverse(f"portal:{name}", args=[sale.pk]))
    assert answer.status_code == 200, name
    assert "no-store" in answer["Cache-Control"]
    assert answer["X-Robots-Tag"] == "noindex, nofollow"
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


# The link.


def test_looking_at_a_link_opens_nothing_and_names_nobody(sale: Transfer, part_link: Callable[[str], str]) -> None:
    browser, address = Client(), part_link("buyer")
    answer = browser.get(address)
    words = answer.content.decode()
    assert answer.status_code == 200
    assert "Open my page" in words
    assert not any(word in words for word in ("Millrace", "Okafor", "Holloway"))
    assert browser.get(reverse("portal:transfer_buyer", args=[sale.pk]))["Location"] == ASK


@pytest.mark.parametrize("role", ["seller", "buyer", "agent"])
def test_a_press_opens_the_part_at_a_clean_address(role: str, sale: Transfer, part_link: Callable[[str], str]) -> None:
    browser = Client()
    answer = browser.post(part_link(role))
    assert (answer.status_code, answer["Location"]) == (302, reverse(f"portal:transfer_{role}", args=[sale.pk]))
    assert browser.get(answer["Location"]).status_code == 200


def test_opening_gives_the_browser_a_new_session_key(sale: Transfer, part_link: Callable[[str], str]) -> None:
    browser = Client()
    browser.post(part_link("buyer"))
    before = browser.session.session_key
    browser.post(part_link("agent"))
    assert browser.session.session_key != before


@pytest.mark.parametrize("token", ["x", "x" * 43, "\0"])
def test_a_wrong_link_says_what_to_do(token: str, sale: Transfer) -> None:
    answer = Client().post(reverse("portal:transfer_link", args=[token]))
    assert answer.status_code == 410
    assert f'action="{ASK}"' in answer.content.decode()
    assert "Millrace" not in answer.content.decode()


def test_an_expired_link_closes_what_was_open_and_says_what_to_do(
    sale: Transfer, open_part: OpenPart, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    browser = open_part("buyer")
    monkeypatch.setattr(clock, "now", lambda: at + timedelta(days=30))
    answer = browser.get(reverse("portal:transfer_buyer", args=[sale.pk]))
    assert answer.status_code == 410
    assert "expired after its 30 days" in answer.content.decode()


def test_an_ended_sale_says_what_became_of_it(
    sale: Transfer, part_link: Callable[[str], str], open_part: OpenPart, office: Actor, at: datetime
) -> None:
    address, browser = part_link("agent"), open_part("buyer")
    transfers.withdraw_transfer(transfer_id=sale.pk, because="The bank said no.", by=office, at=at)
    answers = (Client().post(address), browser.get(reverse("portal:transfer_buyer", args=[sale.pk])))
    for answer in answers:
        assert answer.status_code == 410
        assert "This transfer was called off" in answer.content.decode()
        assert "bank" not in answer.content.decode()


def test_closing_on_this_device_closes_the_sale_as_well(sale: Transfer, open_part: OpenPart) -> None:
    browser = open_part("buyer")
    browser.post(reverse("portal:leave"))
    assert browser.get(reverse("portal:transfer_buyer", args=[sale.pk]))["Location"] == ASK


@pytest.mark.parametrize(("email", "role"), [("iris@example.com", "seller"), ("ben@example.com", "buyer")])
def test_a_new_link_to_the_sale_comes_from_the_page_that_asks_for_links(
    email: str,
    role: str,
    sale: Transfer,
    django_capture_on_commit_callbacks: Any,
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        for _ in range(3):
            Client().post(ASK, {"email": email})
    bodies = [str(message.body) for message in mail.outbox if "/home/sale/link/" in str(message.body)]
    assert len(bodies) == 1
    found = re.search(r"/home/sale/link/\S+", bodies[0])
    assert found is not None
    assert Client().post(found[0])["Location"] == reverse(f"portal:transfer_{role}", args=[sale.pk])


# Who sees what.


def test_the_seller_sees_what_is_missing_until_when_and_what_to_do(sale: Transfer, open_part: OpenPart) -> None:
    words = shown(open_part("seller"), "transfer_seller", sale)
    # Ninety days after May 29, 2026 is Thursday, August 27.
    assert "A check-up that passes is needed by August 27, 2026." in words
    assert "Last day: Thursday, August 27, 2026." in words
    # Thirty days after is Sunday, June 28: so Monday, June 29.
    assert "the last day is June 29, 2026" in words
    assert "2 things are left for you to do." in words
    assert "Ben Okafor" in words
    assert "ben@example.com" not in words


def test_the_buyer_sees_what_they_take_over_and_nothing_of_the_seller(
    sale: Transfer, open_part: OpenPart, iris: Person, at: datetime
) -> None:
    browser = open_part("buyer")
    pages = [shown(browser, name, sale) for name in ("transfer_buyer", "buyer_accepts", "buyer_signs_paper")]
    document = browser.get(reverse("portal:buyer_document", args=[sale.pk])).content
    pages.append(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(document)).pages))
    for words in pages:
        for hidden in ("Iris", "Holloway", "iris@example.com", iris.phone, "The check valve leaks", "Theo Marsh"):
            assert hidden not in words, hidden
    words = pages[0]
    for said in (
        "through and including May 29, 2046",  # 240 months from the closing day
        "through and including May 14, 2045",  # the pit's 300 months from the issue
        "The system as a whole watch",
        "Keep the pumps and the charger plugged in",
        "Damp air, dew on cold walls, and mold.",
        "$150.00, once",
        "The last check-up that passed was on May 10, 2025.",
        "not insurance and not an inspection",
    ):
        assert said in words, said


def test_the_agent_sees_how_far_it_is_and_no_names_no_prices_but_the_fee(sale: Transfer, open_part: OpenPart) -> None:
    words = shown(open_part("agent"), "transfer_agent", sale)
    assert "Friday, May 29, 2026" in words
    assert "3 things are still missing." in words
    assert set(re.findall(r"\$[\d.,]+\d", words)) == {"$150.00"}
    for hidden in ("Iris", "Holloway", "Ben", "Okafor", "@example.com,", "W-"):
        assert hidden not in words, hidden


def test_the_number_of_queries_does_not_grow_with_the_history(sale: Transfer, open_part: OpenPart, theo: User) -> None:
    browser = open_part("buyer")
    with CaptureQueriesContext(connection) as few:
        shown(browser, "transfer_buyer", sale)
    for month in (1, 2, 3):
        checkup_done(sale.warranty.system, date(2026, month, 10), theo, finding="watch")
    with CaptureQueriesContext(connection) as more:
        shown(browser, "transfer_buyer", sale)
    assert len(more) == len(few)


# The seller starts it from the house.


def start(browser: Client, warranty: Warranty, **changes: str) -> Any:
    typed = {"name": "Ben Okafor", "email": "ben@example.com", "closing_on": "2026-05-29"} | changes
    return browser.post(reverse("portal:start_sale", args=[warranty.pk]), typed)


def test_the_owner_starts_the_sale_from_the_house_and_sees_how_far_it_is(
    warranty: Warranty, hers: Client, ownership: Ownership, on: date
) -> None:
    house = hers.get(reverse("portal:house")).content.decode()
    assert reverse("portal:start_sale", args=[warranty.pk]) in house
    answer = start(hers, warranty, agent_name="Ada Lorimer", agent_email="ada@example.com")
    sale = Transfer.objects.get()
    assert answer["Location"] == reverse("portal:transfer_seller", args=[sale.pk])
    assert (sale.seller, sale.buyer.name, sale.closing_on, sale.notified_on) == (ownership, "Ben Okafor", CLOSING, on)
    assert "Ben Okafor" in shown(hers, "transfer_seller", sale)
    house = hers.get(reverse("portal:house")).content.decode()
    assert "The house is being sold" in house
    assert reverse("portal:start_sale", args=[warranty.pk]) not in house
    told = Notice.objects.filter(template__startswith="transfer").order_by("person__name")
    assert [notice.person.name for notice in told] == ["Ada Lorimer", "Ben Okafor", "Iris Holloway"]


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"closing_on": "2020-05-13"}, "The closing can&#x27;t be before"),
        ({"closing_on": "2028-05-29"}, "more than a year away"),
        ({"closing_on": "soon"}, "valid date"),
        ({"email": "Iris@Example.com"}, "the same e-mail address"),
        ({"email": ""}, "required"),
        ({"name": " "}, "required"),
        ({"agent_name": "Ada"}, "e-mail address as well"),
        ({"agent_email": "ada@example.com"}, "name as well"),
    ],
)
def test_a_sale_that_cannot_be_comes_back_with_what_to_do_and_what_was_typed(
    changes: dict[str, str], sentence: str, warranty: Warranty, hers: Client
) -> None:
    answer = start(hers, warranty, **changes)
    words = answer.content.decode()
    assert answer.status_code == 200
    assert sentence in words
    assert "Ben Okafor" in words or "name" in changes
    assert not Transfer.objects.exists()
    assert not Person.objects.filter(name="Ben Okafor").exists()


def test_a_second_sale_at_the_same_time_is_refused(sale: Transfer, hers: Client) -> None:
    answer = start(hers, sale.warranty)
    assert "under way already" in answer.content.decode()
    assert Transfer.objects.count() == 1


def test_somebody_registered_already_is_not_registered_twice_and_the_seller_learns_nothing(
    warranty: Warranty, buyer: Person, hers: Client
) -> None:
    start(hers, warranty, name="ben okafor", email="BEN@example.com")
    assert Transfer.objects.get().buyer == buyer


def test_another_house_and_a_void_warranty_cannot_be_sold_here(
    warranty: Warranty, neighbour: Ownership, open_house: Any, hers: Client, ruth: User, on: date, at: datetime
) -> None:
    assert start(open_house(neighbour), warranty).status_code == 404
    issuing.void_warranty(
        warranty_id=warranty.pk, voided_on=on, clause="Misuse", because="Torn out.", by_user=ruth, at=at
    )
    assert start(hers, warranty).status_code == 404
    assert not Transfer.objects.exists()


def test_the_neighbours_house_opens_no_part_of_the_sale(sale: Transfer, neighbour: Ownership, open_house: Any) -> None:
    browser = open_house(neighbour)
    assert browser.get(reverse("portal:transfer_seller", args=[sale.pk]))["Location"] == ASK


@pytest.mark.parametrize("way", ["by the link", "from the house"])
def test_the_seller_calls_it_off(way: str, sale: Transfer, open_part: OpenPart, hers: Client) -> None:
    browser = open_part("seller") if way == "by the link" else hers
    address = reverse("portal:seller_withdraws", args=[sale.pk])
    assert "Nothing has been issued" in browser.get(address).content.decode()
    assert browser.post(address, {"because": ""}).status_code == 200
    sale.refresh_from_db()
    assert sale.state == "asked"
    answer = browser.post(address, {"because": "We stay."})
    sale.refresh_from_db()
    assert (sale.state, sale.state_because) == ("withdrawn", "We stay.")
    assert answer.status_code == (410 if way == "by the link" else 302)


# The buyer accepts.


def accept(browser: Client, sale: Transfer, **changes: str) -> Any:
    typed = {"consent": "on", "intent": "on", "name": "Ben Okafor"} | changes
    return browser.post(
        reverse("portal:buyer_accepts", args=[sale.pk]), {name: value for name, value in typed.items() if value}
    )


def test_the_buyer_reads_accepts_and_keeps_a_copy(sale: Transfer, open_part: OpenPart) -> None:
    browser = open_part("buyer")
    document = browser.get(reverse("portal:buyer_document", args=[sale.pk])).content
    answer = accept(browser, sale)
    assert answer["Location"] == reverse("portal:transfer_buyer", args=[sale.pk])
    kept = Acceptance.objects.get()
    assert kept.link is not None
    assert (kept.way, kept.link.role) == ("electronic", "buyer")
    words = shown(browser, "transfer_buyer", sale)
    assert "You have accepted" in words
    assert kept.shown_sha256 in words
    copy = browser.get(reverse("portal:buyer_document", args=[sale.pk]))
    assert b"".join(copy.streaming_content) == document  # type: ignore[attr-defined]
    assert browser.get(reverse("portal:buyer_accepts", args=[sale.pk])).status_code == 302


@pytest.mark.parametrize(
    ("opens", "changes", "sentence"),
    [
        (False, {}, "Open the document first, on this device"),
        (True, {"consent": ""}, "required"),
        (True, {"intent": ""}, "required"),
        (True, {"name": ""}, "required"),
    ],
    ids=["not opened", "no consent", "no intent", "no name"],
)
def test_without_each_of_the_steps_nothing_is_accepted(
    opens: bool, changes: dict[str, str], sentence: str, sale: Transfer, open_part: OpenPart
) -> None:
    browser = open_part("buyer")
    if opens:
        browser.get(reverse("portal:buyer_document", args=[sale.pk]))
    assert sentence in accept(browser, sale, **changes).content.decode()
    assert not Acceptance.objects.exists()


def test_what_was_opened_on_another_device_does_not_count_here(sale: Transfer, open_part: OpenPart) -> None:
    phone, desktop = open_part("buyer"), open_part("buyer")
    phone.get(reverse("portal:buyer_document", args=[sale.pk]))
    assert "Open the document first" in accept(desktop, sale).content.decode()
    assert not Acceptance.objects.exists()


def test_a_document_that_has_changed_is_read_again(sale: Transfer, open_part: OpenPart, theo: User) -> None:
    browser = open_part("buyer")
    browser.get(reverse("portal:buyer_document", args=[sale.pk]))
    checkup_done(sale.warranty.system, date(2026, 5, 3), theo, finding="bad")
    assert "The document has changed since you opened it" in accept(browser, sale).content.decode()
    browser.get(reverse("portal:buyer_document", args=[sale.pk]))
    assert accept(browser, sale).status_code == 302


def test_the_buyer_takes_it_back(sale: Transfer, open_part: OpenPart) -> None:
    browser = open_part("buyer")
    browser.get(reverse("portal:buyer_document", args=[sale.pk]))
    accept(browser, sale)
    browser.post(reverse("portal:buyer_takes_back", args=[sale.pk]))
    assert not Acceptance.objects.exists()
    assert "Read and accept here" in shown(browser, "transfer_buyer", sale)


def send_paper(browser: Client, sale: Transfer, content: bytes) -> Any:
    paper = SimpleUploadedFile("IMG_77.pdf", content, content_type="application/pdf")
    typed = {"name": "Ben Okafor", "accepted_on": "2026-05-03", "document": paper}
    return browser.post(reverse("portal:buyer_signs_paper", args=[sale.pk]), typed)


def test_the_buyer_sends_in_the_signed_paper(sale: Transfer, open_part: OpenPart) -> None:
    browser = open_part("buyer")
    assert send_paper(browser, sale, PDF).status_code == 302
    kept = Acceptance.objects.get()
    assert (kept.way, kept.recorded_by) == ("paper", None)
    assert "on paper" in shown(browser, "transfer_buyer", sale)


@pytest.mark.parametrize(
    "content", [b"<script>alert(1)</script>", PDF + b"0" * 10 * 1024 * 1024], ids=["a script", "too large"]
)
def test_what_is_no_paper_is_refused_in_a_sentence(content: bytes, sale: Transfer, open_part: OpenPart) -> None:
    answer = send_paper(open_part("buyer"), sale, content)
    assert "Send a PDF or a photo" in answer.content.decode()
    assert "Ben Okafor" in answer.content.decode()
    assert not Acceptance.objects.exists()


def test_a_huge_upload_is_refused_before_it_is_read(
    sale: Transfer, open_part: OpenPart, monkeypatch: pytest.MonkeyPatch
) -> None:
    def read(*args: Any) -> bytes:
        raise AssertionError("The file was read.")

    monkeypatch.setattr("django.core.files.uploadedfile.TemporaryUploadedFile.read", read, raising=False)
    answer = send_paper(open_part("buyer"), sale, PDF + b"0" * 20 * 1024 * 1024)
    assert "up to 10 MB" in answer.content.decode()


def test_once_issued_the_new_owner_keeps_the_copy_at_the_house_and_the_seller_sees_nothing_any_more(
    sale: Transfer,
    open_part: OpenPart,
    open_house: Any,
    hers: Client,
    neighbour: Ownership,
    theo: User,
    office: Actor,
    at: datetime,
) -> None:
    browser = open_part("buyer")
    browser.get(reverse("portal:buyer_document", args=[sale.pk]))
    accept(browser, sale)
    transfers.record_transfer_fee(transfer_id=sale.pk, paid_on=date(2026, 5, 4), by=office, at=at)
    checkup_done(sale.warranty.system, date(2026, 5, 2), theo, kind="transfer")
    sale.warranty.system.checkups.filter(findings__isnull=False).get().findings.update(done_at=at)
    transfers.issue_transfer(transfer_id=sale.pk, on=CLOSING, by=office, at=at)
    sale.refresh_from_db()
    theirs = open_house(sale.buyer_ownership)
    address = reverse("portal:own_acceptance", args=[sale.warranty_id])
    assert address in theirs.get(reverse("portal:house")).content.decode()
    with Acceptance.objects.get().shown.open("rb") as file:
        assert b"".join(theirs.get(address).streaming_content) == file.read()
    assert open_house(neighbour).get(address).status_code == 404
    assert hers.get(address)["Location"] == ASK
    closed = browser.get(reverse("portal:transfer_buyer", args=[sale.pk]))
    assert closed.status_code == 410
    assert "This sale is complete" in closed.content.decode()
    assert TransferLink.objects.filter(revoked_at__isnull=True).count() == 0
