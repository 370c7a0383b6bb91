"""Publishing: our own default terms pass, and every rule of the list is broken once to see that it bites.

The prescribed sentences are those of 16 CFR 701.3(a)(7) to (9), compared with many printed warranties that quote them.
"""

import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pyphen  # type: ignore[import-untyped]
import pytest

from contractor.systems.part_kinds import PART_KINDS
from contractor.warranties.rules.disclosures import (
    CONSEQUENTIAL_SENTENCE,
    IMPLIED_SENTENCE,
    RIGHTS_SENTENCE,
    wording,
)
from contractor.warranties.rules.plain_data import terms_from_data, terms_to_data
from contractor.warranties.rules.publishing import RULES, Sale, blocking, broken_at_issue, broken_rules
from contractor.warranties.rules.reading import has_capitals_block, reading_grade
from contractor.warranties.rules.terms import (
    CareRule,
    Condition,
    ConsequentialExclusion,
    Dispute,
    Exclusion,
    ImpliedLimit,
    Promise,
    Terms,
    TransferRule,
    Warrantor,
)
from tests.warranties.rule_builders import day

FOLDER = Path(__file__).parents[2] / "fixtures" / "terms"
EDITIONS = sorted(FOLDER.glob("*.json"))
COMPANY = Warrantor(
    legal_name="Harrow Creek Dry Basements", address="8 Quarry Road, Larkmere, PA 19999", trade_names=("Harrow Creek",)
)


def limited() -> Terms:
    """The default edition with the company filled in, as it is published."""
    data = json.loads((FOLDER / "limited-2026-1.json").read_text(encoding="utf-8"))
    return replace(terms_from_data(data), warrantor=COMPANY)


def full() -> Terms:
    """A full warranty made from the default edition by taking out what a full one may not have."""
    edition = limited()
    return replace(
        edition,
        designation="FULL",
        title="Full two-year warranty for your basement water-control system",
        promises=tuple(replace(one, full_months=None, callout_fee=Decimal(0)) for one in edition.promises),
        transfer=None,
        care=None,
        implied_limit=None,
        repeat_failure_remedy="If a fair number of tries do not fix it, you may choose a refund or a new part.",
    )


@pytest.mark.parametrize("path", EDITIONS, ids=lambda path: path.stem)
def test_a_default_edition_breaks_no_rule_once_the_company_is_filled_in(path: Path) -> None:
    edition = terms_from_data(json.loads(path.read_text(encoding="utf-8")))
    assert edition.edition == path.stem
    assert [one.code for one in broken_rules(edition)] == ["MM16"]
    assert broken_rules(replace(edition, warrantor=COMPANY)) == ()


def test_there_is_a_default_edition() -> None:
    assert EDITIONS


def test_the_newest_default_edition_promises_something_for_every_kind_of_part() -> None:
    edition = terms_from_data(json.loads(EDITIONS[-1].read_text(encoding="utf-8")))
    assert {one.part_kind for one in edition.promises} == {kind.code for kind in PART_KINDS}


@pytest.mark.parametrize("path", EDITIONS, ids=lambda path: path.stem)
def test_a_default_edition_survives_being_kept_as_data(path: Path) -> None:
    edition = terms_from_data(json.loads(path.read_text(encoding="utf-8")))
    assert terms_from_data(json.loads(json.dumps(terms_to_data(edition)))) == edition


def test_the_words_of_the_default_edition_say_what_its_fields_do() -> None:
    """The figures stand twice, for the rules and for the reader; they must not part."""
    edition = limited()
    care, transfer = edition.care, edition.transfer
    assert care is not None
    assert transfer is not None
    assert care.every_months == 12
    assert "once a year" in edition.care_words
    assert f"{care.early_days} days before its due day to {care.grace_days} days after" in edition.care_words
    assert care.any_provider
    assert "any skilled person" in edition.care_words
    assert transfer.most is None
    assert "as often as the house is sold" in edition.transfer_words
    assert f"{transfer.notice_days} days after the closing" in edition.transfer_words
    assert f"${transfer.fee}" in edition.transfer_words
    assert f"within {transfer.checkup_within_days} days of the closing" in edition.transfer_words
    assert f"{(transfer.months_after or 0) // 12} years from the first transfer" in edition.transfer_words
    battery = edition.promise_for("battery")
    assert battery is not None
    assert any(f"its own {battery.months} months" in note for note in edition.notes)


def test_the_default_edition_is_easy_to_read_by_a_second_formula_too() -> None:
    """Flesch and Kincaid: 0.39 words per sentence + 11.8 syllables per word - 15.59 (formula from memory)."""
    hyphens = pyphen.Pyphen(lang="en_US")
    words = sentences = syllables = 0
    for _, text in wording(limited()):
        for sentence in text.replace("?", ".").split(". "):
            found = [word.strip(".,:;()$") for word in sentence.split()]
            words += len(found)
            sentences += 1
            syllables += sum(len(hyphens.positions(word)) + 1 for word in found)
    assert 0.39 * words / sentences + 11.8 * syllables / words - 15.59 <= 9.0


def test_a_full_warranty_that_keeps_the_rules_breaks_none() -> None:
    assert broken_rules(full()) == ()


def some(edition: Terms, place: int, **changes: Any) -> tuple[Promise, ...]:
    """The promises with one of them changed."""
    promises = list(edition.promises)
    promises[place] = replace(promises[place], **changes)
    return tuple(promises)


TIED = CareRule(every_months=12, early_days=60, grace_days=30, charge=Decimal("145.00"), any_provider=False)
LIMIT = ImpliedLimit(text="They last as long as this warranty.", sentence=IMPLIED_SENTENCE)
LOSS = ConsequentialExclusion(text="We do not pay for wet goods.", sentence=CONSEQUENTIAL_SENTENCE)
OURS = Condition(sentence="Have us flush it.", provider="ours", charge=Decimal("1.00"))
# the examples of 16 CFR 700.10(c) and of the FTC's business guide, with our own names
VOID_IF = "This warranty is void if service is performed by anyone other than an authorized dealer."
VOID_UNLESS = "Failure to have maintenance done by Harrow Creek, at your expense, voids this warranty."

# the rule, the terms that break it, the fields at fault
BROKEN: list[tuple[str, Terms, list[str]]] = [
    ("MM01", replace(limited(), title="Our warranty"), ["title"]),
    ("MM01", replace(limited(), title="Full and limited warranty"), ["title"]),
    ("MM01", replace(full(), title="Limited two-year warranty"), ["title"]),
    ("MM02", replace(full(), title="Full warranty for your basement"), ["title"]),
    ("MM03", replace(full(), transfer=TransferRule(allowed=False)), ["transfer.allowed"]),
    ("MM03", replace(full(), transfer=TransferRule(allowed=True, fee=Decimal("150.00"))), ["transfer.fee"]),
    ("MM03", replace(full(), transfer=TransferRule(allowed=True, notice_days=30)), ["transfer.notice_days"]),
    (
        "MM03",
        replace(full(), transfer=TransferRule(allowed=True, checkup_within_days=90)),
        ["transfer.checkup_within_days"],
    ),
    ("MM03", replace(full(), transfer=TransferRule(allowed=True, months_after=12)), ["transfer.months_after"]),
    ("MM03", replace(full(), transfer=TransferRule(allowed=True, most=1)), ["transfer.most"]),
    ("MM04", replace(full(), promises=some(full(), 2, full_months=120)), ["promises[2].full_months"]),
    ("MM04", replace(full(), promises=some(full(), 3, callout_fee=Decimal("75.00"))), ["promises[3].callout_fee"]),
    ("MM04", replace(full(), not_paid=("The labor to put it in.",)), ["not_paid[0]"]),
    ("MM05", replace(full(), implied_limit=LIMIT), ["implied_limit"]),
    ("MM06", replace(full(), registration="condition", registration_words="You must register."), ["registration"]),
    ("MM07", replace(full(), repeat_failure_remedy=""), ["repeat_failure_remedy"]),
    ("MM08", replace(limited(), extended_to="named"), ["extended_to_words"]),
    ("MM08", replace(limited(), transfer=TransferRule(allowed=False)), ["extended_to"]),
    ("MM08", replace(limited(), transfer=TransferRule(allowed=True, most=1)), ["extended_to"]),
    ("MM09", replace(limited(), promises=()), ["promises"]),
    (
        "MM09",
        replace(limited(), promises=some(limited(), 4, covers=" ", where="")),
        ["promises[4].covers", "promises[4].where"],
    ),
    ("MM10", replace(limited(), exclusions=()), ["exclusions"]),
    ("MM10", replace(limited(), exclusions=(Exclusion(code="x", sentence=""),)), ["exclusions[0]"]),
    ("MM11", replace(limited(), remedy="", pays_for=(), not_paid=("",)), ["remedy", "pays_for", "not_paid"]),
    ("MM12", replace(limited(), start_event=""), ["start_event"]),
    ("MM13", replace(limited(), promises=some(limited(), 0, life_of=None)), ["promises[0].months"]),
    ("MM14", replace(limited(), promises=some(limited(), 0, life_of=None)), ["promises[0].life_of"]),
    ("MM14", replace(limited(), notes=("We give you a lifetime promise.",)), ["notes[0]"]),
    ("MM15", replace(limited(), claim_steps=("Call us.",)), ["claim_steps"]),
    ("MM15", replace(limited(), claim_steps=("Wait.", "Hope.")), ["claim_steps"]),
    ("MM16", replace(limited(), warrantor=None), ["warrantor.legal_name"]),
    (
        "MM16",
        replace(limited(), warrantor=Warrantor(legal_name=" ", address="8 Quarry Road")),
        ["warrantor.legal_name"],
    ),
    ("MM16", replace(limited(), warrantor=Warrantor(legal_name="Harrow Creek Dry Basements")), ["warrantor.address"]),
    ("MM17", replace(limited(), dispute=Dispute(mechanism="A panel", prior_resort=True)), ["dispute.prior_resort"]),
    ("MM18", replace(limited(), implied_limit=replace(LIMIT, sentence="")), ["implied_limit.sentence"]),
    ("MM18", replace(limited(), implied_limit=replace(LIMIT, on_face=False)), ["implied_limit.on_face"]),
    ("MM18", replace(limited(), implied_limit=replace(LIMIT, months=12)), ["implied_limit.months"]),
    (
        "MM18",
        replace(limited(), implied_limit=replace(LIMIT, months=999)),
        ["implied_limit.months"],
    ),  # a life is longer
    ("MM19", replace(limited(), implied_disclaimed=True), ["implied_disclaimed"]),
    ("MM19", replace(limited(), notes=("There are no implied warranties.",)), ["notes[0]"]),
    ("MM19", replace(limited(), notes=("We disclaim all other implied warranties.",)), ["notes[0]"]),
    ("MM19", replace(limited(), notes=('The pump is sold "as is".',)), ["notes[0]"]),
    ("MM20", replace(limited(), consequential=replace(LOSS, sentence=" ")), ["consequential.sentence"]),
    ("MM20", replace(full(), consequential=replace(LOSS, on_face=False)), ["consequential.on_face"]),
    ("MM21", replace(limited(), rights_sentence=""), ["rights_sentence"]),
    ("MM22", replace(limited(), documents=("warranty", "exclusions")), ["documents"]),
    ("MM22", replace(limited(), documents=()), ["documents"]),
    ("MM23", replace(limited(), care=TIED), ["care.any_provider"]),
    ("MM23", replace(limited(), care=replace(TIED, when_missed="suspend")), ["care.any_provider"]),
    ("MM23", replace(limited(), conditions=(OURS,)), ["conditions[0].provider"]),
    ("MM24", replace(limited(), care_words="Look after it.", care_proof=""), ["care_words", "care_proof"]),
    ("MM24", replace(full(), care=limited().care), ["care"]),
    ("MM25", replace(limited(), notes=(VOID_IF,)), ["notes[0]"]),
    ("MM25", replace(limited(), notes=(VOID_UNLESS,)), ["notes[0]"]),
    ("MM25", replace(limited(), care_words="Once a year. It is void unless we do the check-up."), ["care_words"]),
    ("MM26", replace(limited(), registration="not_a_condition"), ["registration_words"]),
    ("MM26", replace(limited(), notes=("Send in the registration card.",)), ["notes[0]"]),
    ("MM29", replace(limited(), notes=("The decision of the company is final.",)), ["notes[0]"]),
    ("MM30", replace(limited(), notes=("IF THE PUMP FAILS YOU MUST TELL US AT ONCE. " * 8,)), ["notes[0]"]),
    ("MM31", replace(limited(), paid_separately=True), ["paid_separately"]),
    ("MM32", replace(limited(), rights_sentence="This warranty gives you legal rights."), ["rights_sentence"]),
    (
        "MM32",
        replace(limited(), implied_limit=replace(LIMIT, sentence=IMPLIED_SENTENCE[:-1])),
        ["implied_limit.sentence"],
    ),
    ("MM32", replace(limited(), consequential=replace(LOSS, sentence=RIGHTS_SENTENCE)), ["consequential.sentence"]),
]


@pytest.mark.parametrize(("code", "edition", "fields"), BROKEN)
def test_a_broken_rule_is_named_with_its_field(code: str, edition: Terms, fields: list[str]) -> None:
    found = [one for one in broken_rules(edition) if one.code == code]
    assert [one.field for one in found] == fields
    assert all(one.sentence and one.citation for one in found)


def test_every_rule_of_the_list_is_broken_once_above() -> None:
    at_issue = {"MM27", "MM28"}
    listed = {f"MM{number:02}" for number in range(1, 33)} - at_issue
    assert {rule.code for rule in RULES} == listed
    assert {code for code, _, _ in BROKEN} == listed


def test_no_row_breaks_a_rule_by_the_way_that_it_does_not_name() -> None:
    """Rules are told apart: only a promise without months or life breaks two of them at once, and these pairs."""
    together = {frozenset({"MM13", "MM14"}), frozenset({"MM15"}), frozenset({"MM06", "MM26"})}
    for code, edition, _ in BROKEN:
        codes = {one.code for one in broken_rules(edition)}
        assert codes == {code} or any(codes <= pair for pair in together), (code, codes)


# what may stand in terms without breaking anything
HARMLESS = [
    "Maintenance can be done by any company. Badly done repairs are not covered.",
    "A repair that was done badly, by whoever did it, voids the promise for that part.",
    "The pump has a lifetime of about ten years.",
    "Some pumps work as is.",
    "What we decide can be looked at again.",
    "We keep your part for a month.",
]


@pytest.mark.parametrize("note", HARMLESS)
def test_harmless_sentences_break_nothing(note: str) -> None:
    assert broken_rules(replace(limited(), notes=(note,))) == ()


# a check-up that suspends cover may be asked for when it is free, or when anybody may do it (15 U.S.C. 2302(c))
SUSPENSION = [
    (True, "145.00", "", True),
    (True, "0.00", "", True),
    (False, "0.00", "", True),
    (False, "145.00", "", False),
    (False, "145.00", "W-2026-7", True),
]


@pytest.mark.parametrize(("any_provider", "charge", "ftc_waiver", "publishable"), SUSPENSION)
def test_a_warranty_does_not_hang_on_paying_this_company_for_the_check_up(
    any_provider: bool, charge: str, ftc_waiver: str, publishable: bool
) -> None:
    rule = replace(TIED, any_provider=any_provider, charge=Decimal(charge), when_missed="suspend")
    broken = broken_rules(replace(limited(), care=rule, ftc_waiver=ftc_waiver))
    assert (blocking(broken) == ()) is publishable


def test_what_blocks_blocks_and_what_warns_can_be_overridden_by_name() -> None:
    broken = broken_rules(replace(limited(), exclusions=(), remedy=""))
    assert [(one.code, one.severity) for one in broken] == [("MM10", "W"), ("MM11", "E")]
    assert [one.code for one in blocking(broken)] == ["MM10", "MM11"]
    assert [one.code for one in blocking(broken, overridden={"MM10", "MM11"})] == ["MM11"]


def test_only_a_recorded_decision_on_labor_alone_turns_errors_into_warnings() -> None:
    """16 CFR 700.1(h): a warranty solely on workmanship is outside the Act; doubt is resolved in favor of coverage."""
    broken = replace(limited(), remedy="")
    labor = replace(broken, promises=tuple(replace(one, classified="labour_only") for one in broken.promises))
    decided = "Ruth Adair, January 5, 2026: labor alone"
    assert [one.severity for one in broken_rules(broken)] == ["E"]
    assert [one.severity for one in broken_rules(labor)] == ["E"]
    assert [one.severity for one in broken_rules(replace(broken, advisory_because=decided))] == ["E"]
    assert [one.severity for one in broken_rules(replace(labor, advisory_because=decided))] == ["W"]
    unknown = replace(labor, promises=some(labor, 0, classified="unknown"), advisory_because=decided)
    assert [one.severity for one in broken_rules(unknown)] == ["E"]


def test_the_prescribed_sentences_may_change_capitals_and_spaces_only() -> None:
    shouted = replace(limited(), rights_sentence=f"  {RIGHTS_SENTENCE.upper()}\n")
    assert broken_rules(shouted) == ()


# shown on, edition shown, service contract on, implied disclaimed: the rules broken. Signed on April 10, 2026.
SALES: list[tuple[str | None, str, str | None, bool, list[str]]] = [
    ("2026-04-01", "limited-2026-1", None, False, []),
    ("2026-04-10", "limited-2026-1", None, True, []),
    (None, "limited-2026-1", None, False, ["MM27"]),
    ("2026-04-11", "limited-2026-1", None, False, ["MM27"]),
    ("2026-04-01", "limited-2025-1", None, False, ["MM27"]),
    ("2026-04-01", "limited-2026-1", "2026-07-09", True, ["MM28"]),  # the ninetieth day
    ("2026-04-01", "limited-2026-1", "2026-07-10", True, []),
    ("2026-04-01", "limited-2026-1", "2026-04-10", False, []),
]


@pytest.mark.parametrize(("shown", "edition", "contract", "disclaimed", "codes"), SALES)
def test_a_sale_shows_the_terms_first_and_a_service_contract_keeps_implied_warranties(
    shown: str | None, edition: str, contract: str | None, disclaimed: bool, codes: list[str]
) -> None:
    sale = Sale(
        signed_on=day("2026-04-10"),
        terms_shown_on=day(shown) if shown else None,
        shown_edition=edition,
        service_contract_on=day(contract) if contract else None,
    )
    found = broken_at_issue(replace(limited(), implied_disclaimed=disclaimed), sale)
    assert [one.code for one in found] == codes


def test_hard_words_are_warned_of() -> None:
    heavy = (
        "Notwithstanding antecedent representations, indemnification necessitates contemporaneous documentation " * 9
    )
    assert ("MM30", "text") in {(one.code, one.field) for one in broken_rules(replace(limited(), notes=(heavy,) * 9))}


def test_the_reading_grade_is_that_of_its_formula() -> None:
    """Automated readability index, Senter and Smith 1967, worked by hand: 4.71 c/w + 0.5 w/s - 21.43."""
    # 9 words, 35 letters, 1 sentence: 4.71 * 35 / 9 + 0.5 * 9 - 21.43
    assert reading_grade(["The quick brown fox jumps over the lazy dog."]) == pytest.approx(1.38667, abs=1e-5)
    # 6 words of 4 letters in 2 sentences: 18.84 + 1.5 - 21.43
    assert reading_grade(["Keep that line. Call from here!"]) == pytest.approx(-1.09, abs=1e-9)
    assert reading_grade([""]) == 0.0


CAPITALS = [
    ("A SHORT LINE", False),
    ("LINE\nLINE", False),
    ("LINE\nLINE\nLINE", True),
    ("LINE\nline\nLINE\nLINE", False),
]


@pytest.mark.parametrize(("text", "block"), CAPITALS)
def test_more_than_two_lines_of_capitals_are_a_block(text: str, block: bool) -> None:
    assert has_capitals_block(text) is block
