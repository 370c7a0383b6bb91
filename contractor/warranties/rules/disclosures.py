"""The questions behind the publishing list: each looks at terms and names the fields that fall short."""

import re

from contractor.warranties.rules.reading import has_capitals_block, reading_grade
from contractor.warranties.rules.terms import Terms

# Prescribed by 16 CFR 701.3(a)(7), (8) and (9).
IMPLIED_SENTENCE = (
    "Some States do not allow limitations on how long an implied warranty lasts, so the above limitation may not "
    "apply to you."
)
CONSEQUENTIAL_SENTENCE = (
    "Some States do not allow the exclusion or limitation of incidental or consequential damages, so the above "
    "limitation or exclusion may not apply to you."
)
RIGHTS_SENTENCE = (
    "This warranty gives you specific legal rights, and you may also have other rights which vary from State to State."
)
HARDEST_GRADE = 9.0
OUTSIDE_THE_ACT = {"labour_only", "new_construction"}

_DURATION = re.compile(
    r"(?:\d+|one|two|three|four|five|six|seven|eight|nine|ten|fifteen|twenty|thirty)[\s-]+(?:month|year)"
    r"|as long as|\blife of\b|until ",
    re.IGNORECASE,
)
_FREQUENCY = re.compile(r"\b(?:every|each|once|yearly|monthly|annual\w*|per year|a year)\b", re.IGNORECASE)
_NOTIFY = re.compile(r"\b(?:call|write|phone|telephone|e-?mail|notify|tell|report)\b", re.IGNORECASE)
_LIFETIME = re.compile(r"\blife-?time\b(?!\s+of\b)", re.IGNORECASE)
_VOID = re.compile(r"\bvoid(?:s|ed)?\b", re.IGNORECASE)
_SERVICE = re.compile(r"\b(?:servic\w+|maintenance|parts?|repairs?|check-ups?)\b", re.IGNORECASE)
_OWN = re.compile(r"\b(?:us|we|our|ours|authori[sz]ed|dealers?|certified)\b", re.IGNORECASE)
_FINAL = re.compile(r"\b(?:decisions?|judgements?|judgments?)\b[^.]*\b(?:is|are|be)\s+final\b", re.IGNORECASE)
_DISCLAIMER = re.compile(
    r"\b(?:disclaim\w*|exclud\w*|waiv\w*|no)\s+(?:(?:all|any|other|express|or|and|and/or)\s+)*implied\s+warrant"
    r"|[\"“']as[\s-]is[\"”']",
    re.IGNORECASE,
)
_REGISTRATION = re.compile(r"\bregist(?:er|ers|ered|ration)\b", re.IGNORECASE)
_LABOR = re.compile(r"\blabou?r\b", re.IGNORECASE)
_SENTENCES = re.compile(r"(?<=[.!?])\s+")


def under_the_act(terms: Terms) -> bool:
    """Whether the rules bind: any line that is or may be a consumer product, or no recorded decision that none is."""
    decided = bool(terms.advisory_because.strip())
    return not decided or any(promise.classified not in OUTSIDE_THE_ACT for promise in terms.promises)


def wording(terms: Terms) -> list[tuple[str, str]]:
    """Every text of the company's own in the terms with its field; prescribed sentences and names are left out."""
    texts = [(name, getattr(terms, name)) for name in ("title", "extended_to_words", "remedy", "start_event")]
    names = ("care_words", "care_proof", "transfer_words", "repeat_failure_remedy", "registration_words")
    texts += [(name, getattr(terms, name)) for name in names]
    for name in ("pays_for", "not_paid", "claim_steps", "notes"):
        texts += [(f"{name}[{place}]", text) for place, text in enumerate(getattr(terms, name))]
    texts += [(f"promises[{place}].covers", promise.covers) for place, promise in enumerate(terms.promises)]
    texts += [(f"exclusions[{place}]", exclusion.sentence) for place, exclusion in enumerate(terms.exclusions)]
    texts += [(f"conditions[{place}]", condition.sentence) for place, condition in enumerate(terms.conditions)]
    if terms.implied_limit is not None:
        texts.append(("implied_limit.text", terms.implied_limit.text))
    if terms.consequential is not None:
        texts.append(("consequential.text", terms.consequential.text))
    return [(field, text) for field, text in texts if text.strip()]


def title_lacks_designation(terms: Terms) -> list[str]:
    """MM01: the terms are designated full or limited; the designation stands in the title, and the other does not."""
    limited = re.search(r"\blimited\b.*\bwarranty\b", terms.title, re.IGNORECASE)
    full = re.search(r"\bfull\b.*\bwarranty\b", terms.title, re.IGNORECASE)
    if terms.designation == "WRITTEN":
        return ["designation"]
    right, wrong = (full, limited) if terms.designation == "FULL" else (limited, full)
    return [] if right and not wrong else ["title"]


def full_title_lacks_duration(terms: Terms) -> list[str]:
    """MM02: the title of a full warranty states how long."""
    return ["title"] if terms.designation == "FULL" and not _DURATION.search(terms.title) else []


def full_restricts_transfer(terms: Terms) -> list[str]:
    """MM03: a full warranty has no transfer restriction of any kind."""
    rule = terms.transfer
    if terms.designation != "FULL" or rule is None:
        return []
    faults = [] if rule.allowed else ["transfer.allowed"]
    if rule.fee:
        faults.append("transfer.fee")
    names = ("most", "notice_days", "checkup_within_days", "months_after")
    return faults + [f"transfer.{name}" for name in names if getattr(rule, name) is not None]


def full_costs_owner(terms: Terms) -> list[str]:
    """MM04: under a full warranty no share, fee or labor falls on the owner."""
    if terms.designation != "FULL":
        return []
    faults = []
    for place, promise in enumerate(terms.promises):
        if promise.full_months is not None:
            faults.append(f"promises[{place}].full_months")
        if promise.callout_fee:
            faults.append(f"promises[{place}].callout_fee")
    return faults + [f"not_paid[{place}]" for place, text in enumerate(terms.not_paid) if _LABOR.search(text)]


def full_limits_implied(terms: Terms) -> list[str]:
    """MM05: a full warranty does not limit implied warranties."""
    return ["implied_limit"] if terms.designation == "FULL" and terms.implied_limit is not None else []


def full_needs_registration(terms: Terms) -> list[str]:
    """MM06: a full warranty does not depend on registration."""
    return ["registration"] if terms.designation == "FULL" and terms.registration == "condition" else []


def full_lacks_refund(terms: Terms) -> list[str]:
    """MM07: a full warranty states the remedy after repeated failure."""
    missing = terms.designation == "FULL" and not terms.repeat_failure_remedy.strip()
    return ["repeat_failure_remedy"] if missing else []


def persons_missing(terms: Terms) -> list[str]:
    """MM08: who may use the warranty is named when that is not every owner."""
    rule = terms.transfer_limits
    restricted = rule is not None and (not rule.allowed or rule.most is not None)
    if terms.extended_to == "every_owner":
        return ["extended_to"] if restricted else []
    return [] if terms.extended_to_words.strip() else ["extended_to_words"]


def covered_unclear(terms: Terms) -> list[str]:
    """MM09: at least one promise, each with what is covered and where."""
    if not terms.promises:
        return ["promises"]
    return [
        f"promises[{place}].{name}"
        for place, promise in enumerate(terms.promises)
        for name in ("covers", "where")
        if not getattr(promise, name).strip()
    ]


def exclusions_missing(terms: Terms) -> list[str]:
    """MM10: exclusions are listed, or there are none and the terms say so."""
    empty = [f"exclusions[{place}]" for place, one in enumerate(terms.exclusions) if not one.sentence.strip()]
    return empty if terms.exclusions or terms.nothing_excluded else ["exclusions"]


def remedy_missing(terms: Terms) -> list[str]:
    """MM11: the remedy, what is paid and what is not."""
    faults = [] if terms.remedy.strip() else ["remedy"]
    return faults + [name for name in ("pays_for", "not_paid") if not any(t.strip() for t in getattr(terms, name))]


def start_missing(terms: Terms) -> list[str]:
    """MM12: the event on which coverage starts."""
    return [] if terms.start_event.strip() else ["start_event"]


def duration_missing(terms: Terms) -> list[str]:
    """MM13: every promise has a number of months or a life."""
    lacking = [place for place, one in enumerate(terms.promises) if one.months is None and one.life_of is None]
    return [f"promises[{place}].months" for place in lacking]


def life_unnamed(terms: Terms) -> list[str]:
    """MM14: nothing is promised for a life without saying whose."""
    lacking = [place for place, one in enumerate(terms.promises) if one.months is None and one.life_of is None]
    texts = [field for field, text in wording(terms) if _LIFETIME.search(text)]
    return [f"promises[{place}].life_of" for place in lacking] + texts


def steps_missing(terms: Terms) -> list[str]:
    """MM15: two steps or more, one of which is to notify."""
    steps = [step for step in terms.claim_steps if step.strip()]
    return [] if len(steps) > 1 and any(_NOTIFY.search(step) for step in steps) else ["claim_steps"]


def warrantor_missing(terms: Terms) -> list[str]:
    """MM16: who gives the warranty and one way to reach it."""
    one = terms.warrantor
    if one is None or not one.legal_name.strip():
        return ["warrantor.legal_name"]
    reachable = one.address.strip() or one.department.strip() or one.toll_free_phone.strip()
    return [] if reachable else ["warrantor.address"]


def prior_resort(terms: Terms) -> list[str]:
    """MM17: a procedure that must come before a court."""
    return ["dispute.prior_resort"] if terms.dispute is not None and terms.dispute.prior_resort else []


def implied_limit_incomplete(terms: Terms) -> list[str]:
    """MM18: a limit on implied warranties is on page one, long enough and has its sentence."""
    limit = terms.implied_limit
    if limit is None:
        return []
    faults = [] if limit.on_face else ["implied_limit.on_face"]
    if not limit.sentence.strip():
        faults.append("implied_limit.sentence")
    if limit.months is not None and any(one.months is None or one.months > limit.months for one in terms.promises):
        faults.append("implied_limit.months")
    return faults


def disclaims_implied(terms: Terms) -> bool:
    """Whether the terms deny implied warranties, by their field or in their words."""
    return bool(implied_disclaimed(terms))


def implied_disclaimed(terms: Terms) -> list[str]:
    """MM19: no disclaimer of implied warranties."""
    faults = ["implied_disclaimed"] if terms.implied_disclaimed else []
    return faults + [field for field, text in wording(terms) if _DISCLAIMER.search(text)]


def consequential_incomplete(terms: Terms) -> list[str]:
    """MM20: the exclusion of consequential loss has its sentence."""
    one = terms.consequential
    if one is None:
        return []
    faults = [] if one.sentence.strip() else ["consequential.sentence"]
    return [*faults, "consequential.on_face"] if terms.designation == "FULL" and not one.on_face else faults


def rights_sentence_missing(terms: Terms) -> list[str]:
    """MM21: the sentence on specific legal rights is there."""
    return [] if terms.rights_sentence.strip() else ["rights_sentence"]


def several_documents(terms: Terms) -> list[str]:
    """MM22: one document holds all."""
    return [] if len(terms.documents) == 1 else ["documents"]


def service_tied(terms: Terms) -> list[str]:
    """MM23: no service that only this company may do, at a charge."""
    if terms.ftc_waiver.strip():
        return []
    tied = terms.care is not None and not terms.care.any_provider and terms.care.charge > 0
    faults = ["care.any_provider"] if tied else []
    return faults + [
        f"conditions[{place}].provider"
        for place, one in enumerate(terms.conditions)
        if one.provider == "ours" and one.charge > 0
    ]


def care_unclear(terms: Terms) -> list[str]:
    """MM24: maintenance that is asked for says how often and what proof counts."""
    if terms.care is None:
        return []
    faults = ["care"] if terms.designation == "FULL" else []
    if not _FREQUENCY.search(terms.care_words):
        faults.append("care_words")
    return faults if terms.care_proof.strip() else [*faults, "care_proof"]


def voided_by_service(terms: Terms) -> list[str]:
    """MM25: no sentence makes the warranty void over whose service or parts were used."""
    one = terms.warrantor
    names = [name.casefold() for name in (one.legal_name, *one.trade_names) if name.strip()] if one else []

    def names_provider(sentence: str) -> bool:
        return bool(_OWN.search(sentence)) or any(name in sentence.casefold() for name in names)

    return [
        field
        for field, text in wording(terms)
        if any(
            _VOID.search(sentence) and _SERVICE.search(sentence) and names_provider(sentence)
            for sentence in _SENTENCES.split(text)
        )
    ]


def registration_unclear(terms: Terms) -> list[str]:
    """MM26: where registration is mentioned, its effect on coverage is stated."""
    if terms.registration == "none":
        return [field for field, text in wording(terms) if _REGISTRATION.search(text)]
    return [] if terms.registration_words.strip() else ["registration_words"]


def decision_final(terms: Terms) -> list[str]:
    """MM29: nobody's decision is called final."""
    return [field for field, text in wording(terms) if _FINAL.search(text)]


def hard_to_read(terms: Terms) -> list[str]:
    """MM30: a reading grade of nine at most, and no block of capitals."""
    texts = wording(terms)
    grade = reading_grade(text for field, text in texts if field != "title")
    capitals = [field for field, text in texts if has_capitals_block(text)]
    return ["text", *capitals] if grade > HARDEST_GRADE else capitals


def paid_plan(terms: Terms) -> list[str]:
    """MM31: a plan that is paid for separately is not called a warranty."""
    return ["paid_separately"] if terms.paid_separately else []


def sentence_changed(terms: Terms) -> list[str]:
    """MM32: the prescribed sentences are word for word, whatever their capitals and spaces."""
    printed = [("rights_sentence", terms.rights_sentence, RIGHTS_SENTENCE)]
    if terms.implied_limit is not None:
        printed.append(("implied_limit.sentence", terms.implied_limit.sentence, IMPLIED_SENTENCE))
    if terms.consequential is not None:
        printed.append(("consequential.sentence", terms.consequential.sentence, CONSEQUENTIAL_SENTENCE))
    return [field for field, text, exact in printed if text.strip() and _plain(text) != _plain(exact)]


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()
