"""What terms must say before they may be published or issued: a list that a machine can check.

The rules here are those of the Magnuson-Moss Warranty Act (15 U.S.C. 2301-2312) and 16 CFR 239, 700 to 703; for
Canadian terms those of ``canada`` are run. The check is
help, not legal advice: it cannot tell whether a sentence is true, and a lawyer must read the wording.

Severity E blocks; W needs a manager's recorded override; I informs. With a recorded decision that every line is
labor alone or new construction (outside the Act, 16 CFR 700.1) what blocks becomes a warning.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, timedelta

from contractor.warranties.rules import disclosures
from contractor.warranties.rules.broken import BrokenRule, Rule, rule
from contractor.warranties.rules.canada import RULES as CANADIAN_RULES
from contractor.warranties.rules.terms import Terms

SERVICE_CONTRACT_DAYS = 90


@dataclass(frozen=True, slots=True, kw_only=True)
class Sale:
    """The sale a warranty is issued for: when which edition was shown to the buyer, and when it was signed."""

    signed_on: date
    terms_shown_on: date | None = None
    shown_edition: str = ""
    service_contract_on: date | None = None


def broken_rules(terms: Terms) -> tuple[BrokenRule, ...]:
    """Every rule of their jurisdiction that these terms break, in its order; one entry for each field at fault."""
    found = [one.broken_at(field) for one in rules_of(terms) for field in one.faults(terms)]
    if terms.jurisdiction != "US":
        return tuple(found)
    return tuple(found if disclosures.under_the_act(terms) else map(_as_advice, found))


def rules_of(terms: Terms) -> tuple[Rule, ...]:
    """The list that is run over these terms."""
    return CANADIAN_RULES if terms.jurisdiction == "CA" else RULES


def broken_at_issue(terms: Terms, sale: Sale) -> tuple[BrokenRule, ...]:
    """The rules that depend on the sale: terms at hand before it, and a service contract sold with it."""
    found = []
    shown = sale.terms_shown_on
    if shown is None or shown > sale.signed_on or sale.shown_edition != terms.edition:
        found.append(
            BrokenRule(
                code="CA25" if terms.jurisdiction == "CA" else "MM27",
                severity="W",
                field="sale.terms_shown_on",
                sentence="Record when this edition of the terms was shown to the buyer; it must be before the contract "
                "was signed.",
                citation="common practice, no source"
                if terms.jurisdiction == "CA"
                else "15 U.S.C. 2302(b), 16 CFR 702.3",
            )
        )
    if terms.jurisdiction == "CA":
        return tuple(found)
    last_on = sale.signed_on + timedelta(days=SERVICE_CONTRACT_DAYS)
    contract_on = sale.service_contract_on
    if contract_on is not None and contract_on <= last_on and disclosures.disclaims_implied(terms):
        found.append(
            BrokenRule(
                code="MM28",
                severity="E",
                field="implied_disclaimed",
                sentence="With a service contract sold within 90 days, implied warranties cannot be disclaimed; take "
                "the disclaimer out.",
                citation="15 U.S.C. 2308(a)(2)",
            )
        )
    return tuple(found if disclosures.under_the_act(terms) else map(_as_advice, found))


def blocking(broken: Collection[BrokenRule], overridden: Collection[str] = ()) -> tuple[BrokenRule, ...]:
    """What still stands in the way: every E, and each W whose code no manager has overridden."""
    return tuple(one for one in broken if one.severity == "E" or (one.severity == "W" and one.code not in overridden))


def _as_advice(one: BrokenRule) -> BrokenRule:
    return replace(one, severity="W") if one.severity == "E" else one


RULES: tuple[Rule, ...] = (
    rule("MM01", "E", disclosures.title_lacks_designation,
          "Title the warranty 'Full … warranty' or 'Limited warranty', as it is designated.",
          "15 U.S.C. 2303(a), 16 CFR 700.6"),
    rule("MM02", "E", disclosures.full_title_lacks_duration,
          "A full warranty must state its duration in the title, such as 'Full two-year warranty'.",
          "15 U.S.C. 2303(a)(1)"),
    rule("MM03", "E", disclosures.full_restricts_transfer,
          "A full warranty cannot restrict a later owner; take the restriction out or designate it Limited.",
          "15 U.S.C. 2304(b)(4), 16 CFR 700.6(b)"),
    rule("MM04", "E", disclosures.full_costs_owner,
          "Under a full warranty the repair is free of charge; take the owner's share out or designate it Limited.",
          "15 U.S.C. 2304(a)(1), (d)"),
    rule("MM05", "E", disclosures.full_limits_implied,
          "A full warranty cannot limit how long implied warranties last; take the limit out.",
          "15 U.S.C. 2304(a)(2)"),
    rule("MM06", "E", disclosures.full_needs_registration,
          "Registration cannot be a condition of a full warranty; make it optional.", "16 CFR 700.7(b)"),
    rule("MM07", "E", disclosures.full_lacks_refund,
          "State the refund or free replacement after a reasonable number of attempts.",
          "15 U.S.C. 2304(a)(4)"),
    rule("MM08", "E", disclosures.persons_missing,
          "Not every later owner can use this warranty, so say in words who can.", "16 CFR 701.3(a)(1)"),
    rule("MM09", "E", disclosures.covered_unclear,
          "Say exactly what is covered and where it is.", "16 CFR 701.3(a)(2)"),
    rule("MM10", "W", disclosures.exclusions_missing,
          "List what is not covered, or state that nothing is excluded.", "16 CFR 701.3(a)(2)"),
    rule("MM11", "E", disclosures.remedy_missing,
          "Say what the company will do, what it pays for and what it does not pay for.", "16 CFR 701.3(a)(3)"),
    rule("MM12", "E", disclosures.start_missing,
          "State on what event coverage starts.", "16 CFR 701.3(a)(4)"),
    rule("MM13", "E", disclosures.duration_missing,
          "State how long coverage lasts: a number of months or a named life.", "16 CFR 701.3(a)(4), 700.3"),
    rule("MM14", "E", disclosures.life_unnamed,
          "Say whose lifetime is meant: the structure's, the part's, or this owner's time in the house.",
          "16 CFR 239.4, 701.3(a)(4)"),
    rule("MM15", "E", disclosures.steps_missing,
          "Give at least two steps in order for a claim, with how to notify the company.", "16 CFR 701.3(a)(5)"),
    rule("MM16", "E", disclosures.warrantor_missing,
          "Name the warrantor, with its mailing address, a department's address or a toll-free telephone number.",
          "16 CFR 701.3(a)(5)"),
    rule("MM17", "W", disclosures.prior_resort,
          "An owner can be sent to a dispute procedure first only if it meets 16 CFR 703; ask a lawyer.",
          "15 U.S.C. 2310(a)(3), 16 CFR 703"),
    rule("MM18", "E", disclosures.implied_limit_incomplete,
          "Put the limit on implied warranties on page one, with the prescribed sentence in the same block and no "
          "shorter than the written warranty.", "15 U.S.C. 2308(b), 16 CFR 701.3(a)(7)"),
    rule("MM19", "E", disclosures.implied_disclaimed,
          "Implied warranties cannot be disclaimed; take the disclaimer out.", "15 U.S.C. 2308(a)"),
    rule("MM20", "E", disclosures.consequential_incomplete,
          "Add the prescribed sentence on incidental and consequential damages to the exclusion; a full warranty "
          "shows it on page one.", "16 CFR 701.3(a)(8), 15 U.S.C. 2304(a)(3)"),
    rule("MM21", "E", disclosures.rights_sentence_missing,
          "Add the prescribed sentence on specific legal rights.", "16 CFR 701.3(a)(9)"),
    rule("MM22", "E", disclosures.several_documents,
          "Put all terms in a single document.", "16 CFR 701.3(a)"),
    rule("MM23", "E", disclosures.service_tied,
          "A check-up or service that only this company may do must be free of charge: accept any qualified "
          "provider's record, or charge nothing.", "15 U.S.C. 2302(c), 16 CFR 700.10"),
    rule("MM24", "W", disclosures.care_unclear,
          "Say how often maintenance is needed and what record of it is accepted; a full warranty must be able to "
          "show that asking for it is reasonable.", "15 U.S.C. 2301(9), 2304(b)(1)"),
    rule("MM25", "E", disclosures.voided_by_service,
          "Do not make the warranty void over who did the service; write 'we do not cover damage caused by …'.",
          "16 CFR 700.10(c)"),
    rule("MM26", "E", disclosures.registration_unclear,
          "Say whether registration affects coverage.", "16 CFR 701.4"),
    rule("MM29", "E", disclosures.decision_final,
          "Do not state that the company's decision is final.", "16 CFR 700.8 (from memory)"),
    rule("MM30", "W", disclosures.hard_to_read,
          "Use shorter words and sentences, and no blocks of capitals.", "16 CFR 701.3(a)"),
    rule("MM31", "E", disclosures.paid_plan,
          "What is paid for separately is a service contract, not a warranty; publish it as one.",
          "16 CFR 700.11, 15 U.S.C. 2306(b)"),
    rule("MM32", "E", disclosures.sentence_changed,
          "A prescribed sentence was changed; put the exact wording back.", "16 CFR 701.3(a)(7)-(9)"),
)  # fmt: skip
