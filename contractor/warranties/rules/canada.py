"""What Canadian terms must say before they may be published: provincial consumer law, as far as a machine can check.

The Magnuson-Moss Act does not apply in Canada. Each province has its own law: deemed quality of what is sold, and
rights that a contract cannot take away. The sections named here are from memory, and a rule without one is common
practice, no source. A lawyer of the province must read the wording, in both languages where the province asks for it.
"""

import re

from contractor.warranties.rules import disclosures
from contractor.warranties.rules.broken import Rule, rule
from contractor.warranties.rules.terms import Terms

PROVINCES: dict[str, str] = {
    "AB": "Alberta",
    "BC": "British Columbia",
    "MB": "Manitoba",
    "NB": "New Brunswick",
    "NL": "Newfoundland and Labrador",
    "NS": "Nova Scotia",
    "NT": "Northwest Territories",
    "NU": "Nunavut",
    "ON": "Ontario",
    "PE": "Prince Edward Island",
    "QC": "Quebec",
    "SK": "Saskatchewan",
    "YT": "Yukon",
}
# Our own wording; no statute prescribes one. A lawyer of the province should read it.
CANADIAN_RIGHTS_SENTENCE = (
    "This warranty is in addition to your rights under the law of your province. Nothing in it takes away or limits "
    "those rights."
)

_DESIGNATION = re.compile(r"\b(?:full|limited)\b[^.]*\bwarranty\b", re.IGNORECASE)
_STATES = re.compile(r"\bsome states\b|\bstate to state\b", re.IGNORECASE)
_LAW_OF_PROVINCE = re.compile(r"\blaws?\b[^.]*\b(?:provinces?|territor(?:y|ies))\b|\bprovincial law\b", re.IGNORECASE)
_KEPT = re.compile(r"\b(?:in addition to|not affect|takes? away|remain)\b", re.IGNORECASE)
_US_MEASURE = re.compile(
    r"\b\d[\d,.]*\s*-?\s*(?:feet|foot|ft|inch(?:es)?|gallons?|pounds?|lbs?|miles?)\b|\d\s*°\s*F\b", re.IGNORECASE
)


def us_designation(terms: Terms) -> list[str]:
    """CA01: terms for Canada carry no designation of the law of the United States."""
    faults = [] if terms.designation == "WRITTEN" else ["designation"]
    titled = _DESIGNATION.search(terms.title) or "warranty" not in terms.title.casefold()
    return [*faults, "title"] if titled else faults


def provinces_missing(terms: Terms) -> list[str]:
    """CA02: the provinces and territories in which the terms are used are named."""
    known = terms.provinces and all(code in PROVINCES for code in terms.provinces)
    return [] if known else ["provinces"]


def provincial_rights_missing(terms: Terms) -> list[str]:
    """CA03: the terms say that rights under the law of the province stay."""
    said = terms.rights_sentence
    return [] if _LAW_OF_PROVINCE.search(said) and _KEPT.search(said) else ["rights_sentence"]


def us_sentences(terms: Terms) -> list[str]:
    """CA04: no sentence about the law of the States is left."""
    texts = [*disclosures.wording(terms), ("rights_sentence", terms.rights_sentence)]
    if terms.implied_limit is not None:
        texts.append(("implied_limit.sentence", terms.implied_limit.sentence))
    if terms.consequential is not None:
        texts.append(("consequential.sentence", terms.consequential.sentence))
    return [field for field, text in texts if _STATES.search(text)]


def implied_conditions_cut(terms: Terms) -> list[str]:
    """CA05: what the law implies is neither disclaimed nor limited in time."""
    return disclosures.implied_disclaimed(terms) + (["implied_limit"] if terms.implied_limit is not None else [])


def own_acts_excluded(terms: Terms) -> list[str]:
    """CA06: in Quebec no liability for the company's own acts is excluded."""
    return ["consequential"] if terms.consequential is not None and "QC" in terms.provinces else []


def loss_excluded(terms: Terms) -> list[str]:
    """CA07: elsewhere an exclusion of further loss may not hold."""
    return ["consequential"] if terms.consequential is not None and "QC" not in terms.provinces else []


def court_barred(terms: Terms) -> list[str]:
    """CA15: nobody is sent to another procedure before a court."""
    return disclosures.prior_resort(terms)


def care_tied(terms: Terms) -> list[str]:
    """CA16: the check-up may be done by any qualified provider, or is free."""
    return disclosures.service_tied(terms)


def french_missing(terms: Terms) -> list[str]:
    """CA19: terms for Quebec go with a French text."""
    return ["french_document"] if "QC" in terms.provinces and not terms.french_document.strip() else []


def us_measures(terms: Terms) -> list[str]:
    """CA20: measures are metric."""
    return [field for field, text in disclosures.wording(terms) if _US_MEASURE.search(text)]


_WARRANTY_45 = "Quebec Consumer Protection Act s. 45 (from memory); common practice elsewhere"

RULES: tuple[Rule, ...] = (
    rule("CA01", "E", us_designation,
         "Title it a warranty and designate it Written: Full and Limited are designations of the law of the United "
         "States.", "common practice, no source"),
    rule("CA02", "E", provinces_missing,
         "Name each province and territory in which these terms are used; the law differs from one to the next.",
         "common practice, no source"),
    rule("CA03", "E", provincial_rights_missing,
         "Say that the warranty is in addition to the rights under the law of the province, and takes none away.",
         "Ontario Consumer Protection Act, 2002, ss. 7 and 9; Quebec Consumer Protection Act ss. 34 to 38 and 261 "
         "(from memory)"),
    rule("CA04", "E", us_sentences,
         "Take out the sentence about the law of the States; it says nothing true about Canada.",
         "15 U.S.C. 2301 to 2312 do not apply in Canada"),
    rule("CA05", "E", implied_conditions_cut,
         "What the law implies about quality can be neither disclaimed nor limited; take that out.",
         "Ontario Consumer Protection Act, 2002, s. 9(3); British Columbia Sale of Goods Act s. 20 (from memory)"),
    rule("CA06", "E", own_acts_excluded,
         "In Quebec a business cannot free itself from what follows from its own acts; take the exclusion out.",
         "Quebec Consumer Protection Act s. 10 (from memory)"),
    rule("CA07", "W", loss_excluded,
         "An exclusion of further loss may not hold against a consumer; ask a lawyer of the province.",
         "common practice, no source"),
    rule("CA08", "E", disclosures.persons_missing,
         "Not every later owner can use this warranty, so say in words who can.", _WARRANTY_45),
    rule("CA09", "E", disclosures.covered_unclear, "Say exactly what is covered and where it is.", _WARRANTY_45),
    rule("CA10", "W", disclosures.exclusions_missing,
         "List what is not covered, or state that nothing is excluded.", "common practice, no source"),
    rule("CA11", "E", disclosures.remedy_missing,
         "Say what the company will do, what it pays for and what it does not pay for.", _WARRANTY_45),
    rule("CA12", "E", disclosures.start_missing, "State on what event coverage starts.", _WARRANTY_45),
    rule("CA13", "E", disclosures.life_unnamed,
         "State how long coverage lasts: a number of months, or whose lifetime is meant.", _WARRANTY_45),
    rule("CA14", "E", disclosures.steps_missing,
         "Give at least two steps in order for a claim, with how to notify the company.", _WARRANTY_45),
    rule("CA15", "E", court_barred,
         "An owner cannot be kept from going to court first; take the condition out.",
         "Ontario Consumer Protection Act, 2002, s. 7(2); Quebec Consumer Protection Act s. 11.1 (from memory)"),
    rule("CA16", "W", care_tied,
         "A check-up that only this company may do should be free of charge: accept any qualified provider's record, "
         "or charge nothing.", "common practice, no source"),
    rule("CA17", "E", disclosures.warrantor_missing,
         "Name the company that gives the warranty, with its address.", _WARRANTY_45),
    rule("CA18", "E", disclosures.decision_final,
         "Do not state that the company's decision is final.", "Quebec Consumer Protection Act s. 11 (from memory)"),
    rule("CA19", "W", french_missing,
         "In Quebec the French text comes first and the owner may then choose another language: name the French "
         "document that goes with these terms.", "Charter of the French Language s. 55 (from memory)"),
    rule("CA20", "W", us_measures, "Give measures in metric units.", "common practice, no source"),
    rule("CA21", "W", disclosures.care_unclear,
         "Say how often maintenance is needed and what record of it is accepted.", "common practice, no source"),
    rule("CA22", "W", disclosures.hard_to_read,
         "Use shorter words and sentences, and no blocks of capitals.", "common practice, no source"),
    rule("CA23", "E", disclosures.paid_plan,
         "What is paid for separately is a service contract, not a warranty; publish it as one.",
         "common practice, no source"),
    rule("CA24", "E", disclosures.voided_by_service,
         "Do not make the warranty void over who did the service; write 'we do not cover damage caused by …'.",
         "common practice, no source"),
)  # fmt: skip
