"""Canadian terms: our template passes, and every rule of the list is broken once to see that it bites.

The sections that the rules name are from memory; a lawyer of the province has to confirm them. That the Act of the
United States does not apply in Canada follows from its own words (15 U.S.C. 2301(13) to (15), commerce and State).
"""

import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from contractor.warranties.rules.canada import CANADIAN_RIGHTS_SENTENCE, PROVINCES, RULES
from contractor.warranties.rules.disclosures import CONSEQUENTIAL_SENTENCE, IMPLIED_SENTENCE, RIGHTS_SENTENCE
from contractor.warranties.rules.plain_data import terms_from_data
from contractor.warranties.rules.publishing import Sale, blocking, broken_at_issue, broken_rules, rules_of
from contractor.warranties.rules.terms import (
    CareRule,
    Condition,
    ConsequentialExclusion,
    Dispute,
    ImpliedLimit,
    Promise,
    Terms,
    TransferRule,
    Warrantor,
)
from tests.warranties.rule_builders import day

FOLDER = Path(__file__).parents[2] / "fixtures" / "terms" / "templates"
TEMPLATES = sorted(FOLDER.glob("*.json"))
COMPANY = Warrantor(legal_name="Harrow Creek Dry Basements", address="8 Quarry Road, Larkmere")


def read(path: Path) -> Terms:
    return replace(terms_from_data(json.loads(path.read_text(encoding="utf-8"))), warrantor=COMPANY)


def canadian(**changes: Any) -> Terms:
    return replace(read(FOLDER / "canada-written.json"), **changes)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.stem)
def test_a_template_keeps_every_rule_of_its_own_country(path: Path) -> None:
    assert broken_rules(read(path)) == ()


def test_there_are_templates_of_every_designation() -> None:
    assert {read(path).designation for path in TEMPLATES} == {"FULL", "LIMITED", "WRITTEN"}


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.stem)
def test_a_template_breaks_rules_of_the_other_country(path: Path) -> None:
    edition = read(path)
    other = "US" if edition.jurisdiction == "CA" else "CA"
    assert blocking(broken_rules(replace(edition, jurisdiction=other)))


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.stem)
def test_the_words_of_a_template_say_what_its_fields_do(path: Path) -> None:
    edition = read(path)
    if edition.care is not None:
        window = f"{edition.care.early_days} days before its due day to {edition.care.grace_days} days after"
        assert window in edition.care_words
    if edition.transfer is not None:
        assert f"{edition.transfer.notice_days} days after the closing" in edition.transfer_words
        assert "It costs nothing" in edition.transfer_words
        assert not edition.transfer.fee
        if edition.transfer.months_after is not None:
            assert f"{edition.transfer.months_after // 12} years from the first transfer" in edition.transfer_words


TIED = CareRule(every_months=12, early_days=60, grace_days=30, charge=Decimal("145.00"), any_provider=False)
LIMIT = ImpliedLimit(text="They last as long as this warranty.", sentence=IMPLIED_SENTENCE)
LOSS = ConsequentialExclusion(text="We do not pay for wet goods.", sentence="")
US_LOSS = ConsequentialExclusion(text="We do not pay for wet goods.", sentence=CONSEQUENTIAL_SENTENCE)
VOID = "This warranty is void if service is performed by anyone other than an authorized dealer."
HARD = (
    "Notwithstanding contradictory representations communicated beforehand, indemnification responsibilities "
    "necessarily presuppose uninterrupted documentation demonstrating professionally administered maintenance."
)


def first(**changes: Any) -> tuple[Promise, ...]:
    promises = canadian().promises
    return (replace(promises[0], **changes), *promises[1:])


# the rule, the terms that break it, the fields at fault
BROKEN: list[tuple[str, Terms, list[str]]] = [
    ("CA01", canadian(designation="LIMITED"), ["designation"]),
    ("CA01", canadian(title="Limited warranty for your basement"), ["title"]),
    ("CA01", canadian(title="Full two-year warranty"), ["title"]),
    ("CA01", canadian(title="Our promise"), ["title"]),
    ("CA02", canadian(provinces=()), ["provinces"]),
    ("CA02", canadian(provinces=("ON", "PA")), ["provinces"]),
    ("CA03", canadian(rights_sentence=""), ["rights_sentence"]),
    ("CA03", canadian(rights_sentence="You have rights."), ["rights_sentence"]),
    ("CA04", canadian(rights_sentence=f"{CANADIAN_RIGHTS_SENTENCE} {RIGHTS_SENTENCE}"), ["rights_sentence"]),
    ("CA04", canadian(consequential=US_LOSS), ["consequential.sentence"]),
    ("CA05", canadian(implied_limit=replace(LIMIT, sentence="")), ["implied_limit"]),
    ("CA05", canadian(implied_disclaimed=True), ["implied_disclaimed"]),
    ("CA05", canadian(notes=("We give no other express or implied warranties.",)), ["notes[0]"]),
    ("CA06", canadian(provinces=("ON", "QC"), consequential=LOSS, french_document="Garantie"), ["consequential"]),
    ("CA07", canadian(consequential=LOSS), ["consequential"]),
    ("CA08", canadian(transfer=TransferRule(allowed=False)), ["extended_to"]),
    ("CA09", canadian(promises=first(covers="")), ["promises[0].covers"]),
    ("CA10", canadian(exclusions=()), ["exclusions"]),
    ("CA11", canadian(remedy=""), ["remedy"]),
    ("CA12", canadian(start_event=""), ["start_event"]),
    ("CA13", canadian(promises=first(life_of=None)), ["promises[0].life_of"]),
    ("CA14", canadian(claim_steps=("Call us.",)), ["claim_steps"]),
    ("CA15", canadian(dispute=Dispute(mechanism="A mediator.", prior_resort=True)), ["dispute.prior_resort"]),
    ("CA16", canadian(care=TIED), ["care.any_provider"]),
    (
        "CA16",
        canadian(conditions=(Condition(sentence="Have us flush it.", provider="ours", charge=Decimal("1.00")),)),
        ["conditions[0].provider"],
    ),
    ("CA17", canadian(warrantor=None), ["warrantor.legal_name"]),
    ("CA18", canadian(notes=("Our decision is final.",)), ["notes[0]"]),
    ("CA19", canadian(provinces=("ON", "QC")), ["french_document"]),
    ("CA20", canadian(notes=("Keep 3 feet of pipe clear.",)), ["notes[0]"]),
    ("CA20", canadian(notes=("It runs down to 40 °F.",)), ["notes[0]"]),
    ("CA21", canadian(care_proof=""), ["care_proof"]),
    ("CA22", canadian(notes=(HARD,) * 20), ["text"]),
    ("CA23", canadian(paid_separately=True), ["paid_separately"]),
    ("CA24", canadian(notes=(VOID,)), ["notes[0]"]),
]


@pytest.mark.parametrize(("code", "edition", "fields"), BROKEN)
def test_a_broken_rule_is_named_with_its_field(code: str, edition: Terms, fields: list[str]) -> None:
    assert [one.field for one in broken_rules(edition) if one.code == code] == fields


def test_every_rule_of_the_list_is_broken_once_above() -> None:
    assert {code for code, _, _ in BROKEN} == {rule.code for rule in RULES}


def test_no_row_breaks_a_rule_by_the_way_that_it_does_not_name() -> None:
    for code, edition, _ in BROKEN:
        others = {one.code for one in broken_rules(edition)} - {code}
        # Denying what the law implies with a sentence of the States is two faults in one.
        assert others <= {"CA07", "CA05"}, (code, others)


# Harmless neighbours of what the patterns look for.
HARMLESS = [
    "Clear the line for 2 metres past the wall.",
    "The pit is 60 cm deep.",
    "You can keep your rights under provincial law.",
    "A foot valve is not used here.",
]


@pytest.mark.parametrize("note", HARMLESS)
def test_harmless_sentences_break_nothing(note: str) -> None:
    assert broken_rules(canadian(notes=(note,))) == ()


def test_quebec_asks_for_french_and_takes_a_named_document_or_a_reason() -> None:
    asked = broken_rules(canadian(provinces=("QC",)))
    assert [(one.code, one.severity) for one in asked] == [("CA19", "W")]
    assert "French text comes first" in asked[0].sentence
    assert blocking(asked)
    assert not blocking(asked, overridden={"CA19"})
    assert broken_rules(canadian(provinces=("QC",), french_document="Garantie écrite, édition 2027-1")) == ()


def test_the_jurisdiction_chooses_the_list() -> None:
    assert {rule.code[:2] for rule in rules_of(canadian())} == {"CA"}
    assert {rule.code[:2] for rule in rules_of(canadian(jurisdiction="US"))} == {"MM"}


def test_every_province_and_territory_is_known() -> None:
    """ISO 3166-2:CA has ten provinces and three territories (from memory)."""
    assert len(PROVINCES) == 13
    assert all(len(code) == 2 and code.isupper() for code in PROVINCES)


def test_a_canadian_sale_shows_the_terms_too_but_under_no_law_of_the_states() -> None:
    unshown = broken_at_issue(canadian(), Sale(signed_on=day("2026-05-14")))
    assert [(one.code, one.severity) for one in unshown] == [("CA25", "W")]
    assert "U.S.C." not in unshown[0].citation
    shown = Sale(
        signed_on=day("2026-05-14"), terms_shown_on=day("2026-05-14"), shown_edition=canadian().edition
    )
    assert broken_at_issue(canadian(), shown) == ()
