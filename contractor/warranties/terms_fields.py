"""Which fields the editor of terms has, in which groups; a field of the terms and one of the form have one address.

``promises[2].months`` of the terms is ``promise-pit-months`` of the form, ``care.charge`` is ``care-charge``.
"""

import re
from collections.abc import Mapping, Sequence

from django import forms

from contractor.core.templatetags.country_style import in_money
from contractor.systems.part_kinds import PART_KINDS
from contractor.warranties.rules.canada import CANADIAN_RIGHTS_SENTENCE, PROVINCES
from contractor.warranties.rules.disclosures import CONSEQUENTIAL_SENTENCE, IMPLIED_SENTENCE, RIGHTS_SENTENCE

LONGEST = 1200
LONGEST_LIST = 8000
SPARE_ROWS = 2
WORD_FOR_WORD = "Word for word: "

_PLACE = re.compile(r"^(promises|exclusions|conditions)\[(\d+)\](?:\.(\w+))?")
_FIRST_WORD = re.compile(r"^[a-z_]+(?:\[\d+\])?(?:\.[a-z_]+)?")

DESIGNATIONS = (
    ("LIMITED", "Limited warranty (United States)"),
    ("FULL", "Full warranty (United States)"),
    ("WRITTEN", "Written warranty (Canada)"),
)
LIVES = (
    ("", "Some months"),
    ("structure", "Structure's life"),
    ("product", "Part's life"),
    ("ownership", "This owner's time"),
)
STARTS = (("issue", "From the issue day"), ("component", "From the day each goes in"))
CLASSES = (
    ("unknown", "Not decided"),
    ("equipment", "Equipment"),
    ("materials_improvement", "Materials built in"),
    ("labour_only", "Labor alone"),
    ("new_construction", "New construction"),
)
MISSED = (("judge", "Judged in a claim; cover goes on"), ("suspend", "Cover rests until a check-up has passed"))
TRANSFERS = (
    ("free", "Every later owner, freely"),
    ("rule", "Every later owner, on these terms"),
    ("no", "It does not pass on"),
)
REGISTRATIONS = (
    ("none", "There is none"),
    ("not_a_condition", "Welcome, and cover doesn't depend on it"),
    ("condition", "Cover depends on it"),
)
PROVIDERS = (("owner", "The owner"), ("any", "Any qualified provider"), ("ours", "This company alone"))


def sentence(label: str, *, rows: int = 2, help_text: str = "", most: int = LONGEST) -> forms.CharField:
    """A sentence or a few."""
    return forms.CharField(
        label=label,
        required=False,
        max_length=most,
        help_text=help_text,
        widget=forms.Textarea(attrs={"rows": rows, "class": "form-control"}),
    )


def lines(label: str, *, rows: int = 4, help_text: str = "One on each line.") -> forms.CharField:
    """Several sentences, one on each line."""
    return sentence(label, rows=rows, help_text=help_text, most=LONGEST_LIST)


def word(label: str, *, most: int = 160, help_text: str = "") -> forms.CharField:
    """A name or a few words."""
    widget = forms.TextInput(attrs={"class": "form-control"})
    return forms.CharField(label=label, required=False, max_length=most, help_text=help_text, widget=widget)


def whole(label: str, *, help_text: str = "", least: int = 0) -> forms.IntegerField:
    """A whole number; empty where the terms set none."""
    widget = forms.TextInput(attrs={"class": "form-control is-short", "inputmode": "numeric"})
    return forms.IntegerField(
        label=label, required=False, min_value=least, max_value=9999, help_text=help_text, widget=widget
    )


def money(label: str) -> forms.DecimalField:
    """An amount in dollars; empty is none."""
    widget = forms.TextInput(attrs={"class": "form-control is-short", "inputmode": "decimal"})
    return forms.DecimalField(label=label, required=False, min_value=0, max_digits=9, decimal_places=2, widget=widget)


def choice(label: str, options: Sequence[tuple[str, str]], *, help_text: str = "") -> forms.ChoiceField:
    """One of a few; the first when nothing is chosen."""
    widget = forms.Select(attrs={"class": "form-select"})
    return forms.ChoiceField(label=label, required=False, choices=options, help_text=help_text, widget=widget)


def tick(label: str) -> forms.BooleanField:
    """Yes or no."""
    widget = forms.CheckboxInput(attrs={"class": "form-check-input"})
    return forms.BooleanField(label=label, required=False, widget=widget)


def plain_fields() -> dict[str, forms.Field]:
    """Every field but those of promises, exclusions and conditions."""
    return _name_fields() | _promise_words() | _care_and_sale() | _limits() | _rest()


def _name_fields() -> dict[str, forms.Field]:
    return {
        "edition": word("Name of the edition", most=40, help_text="Short, without spaces, such as limited-2027-1."),
        "jurisdiction": choice(
            "Written for", (("US", "The United States"), ("CA", "Canada")), help_text="It chooses the rules to keep."
        ),
        "designation": choice("Designation", DESIGNATIONS),
        "title": word("Title", most=120),
        "provinces": forms.MultipleChoiceField(
            label="Provinces and territories (Canada)",
            required=False,
            choices=list(PROVINCES.items()),
            widget=forms.CheckboxSelectMultiple(attrs={"class": "form-check-input"}),
        ),
        "french_document": word("French document that goes with it (Quebec)"),
        "warrantor-legal_name": word("Company", help_text="Empty: your company as it is set up when you publish."),
        "warrantor-address": word("Address"),
        "warrantor-department": word("Department and its address (optional)"),
        "warrantor-toll_free_phone": word("Toll-free telephone (optional)", most=40),
        "warrantor-trade_names": word("Other names it is known by (optional)", help_text="With commas between."),
        "extended_to": choice("Who may use it", (("every_owner", "Every owner"), ("named", "Those named here"))),
        "extended_to_words": sentence("Who they are"),
    }


def _promise_words() -> dict[str, forms.Field]:
    return {
        "start_event": sentence("When cover starts"),
        "remedy": sentence("What we do when something fails", rows=4),
        "pays_for": lines("What we pay for"),
        "not_paid": lines("What we don't pay for"),
        "repeat_failure_remedy": sentence("After several tries that failed", help_text="A full warranty must say it."),
    }


def _care_and_sale() -> dict[str, forms.Field]:
    return {
        "care-asked": tick("A check-up is asked for"),
        "care-every_months": whole("Every how many months", least=1),
        "care-early_days": whole("Days it may be early"),
        "care-grace_days": whole("Days of grace after"),
        "care-charge": money(in_money("Our charge for it ({})")),
        "care-any_provider": tick("Any qualified provider's record counts"),
        "care-when_missed": choice("When it was missed", MISSED),
        "care_words": sentence("In words", rows=4),
        "care_proof": sentence("What record we accept"),
        "transfer-way": choice("A later owner", TRANSFERS),
        "transfer-most": whole("Transfers at most"),
        "transfer-notice_days": whole("We must be told within (days)"),
        "transfer-fee": money(in_money("Fee ({})")),
        "transfer-checkup_within_days": whole("A check-up passed within (days)"),
        "transfer-months_after": whole("A life becomes (months)", least=1),
        "transfer_words": sentence("In words", rows=4),
    }


def _limits() -> dict[str, forms.Field]:
    return {
        "nothing_excluded": tick("Nothing is excluded"),
        "claim_steps": lines("Steps, in order", rows=6, help_text="One step on each line; they are numbered in print."),
        "registration": choice("Registration", REGISTRATIONS),
        "registration_words": sentence("What registration does"),
        "dispute-mechanism": sentence("Out-of-court procedure (optional)"),
        "dispute-prior_resort": tick("It must be tried before a court"),
        "implied_limit-text": sentence(
            "Limit on implied warranties (optional)", help_text="Limited warranties of the United States only."
        ),
        "implied_limit-sentence": sentence("Its prescribed sentence", help_text=WORD_FOR_WORD + IMPLIED_SENTENCE),
        "implied_limit-months": whole("Limit in months", help_text="Empty: as long as the promise.", least=1),
        "implied_limit-on_face": tick("On page one"),
        "consequential-text": sentence("Exclusion of further loss (optional)"),
        "consequential-sentence": sentence("Its prescribed sentence", help_text=WORD_FOR_WORD + CONSEQUENTIAL_SENTENCE),
        "consequential-on_face": tick("On page one"),
        "rights_sentence": sentence(
            "Your rights",
            help_text=f"United States: {RIGHTS_SENTENCE} Canada, for example: {CANADIAN_RIGHTS_SENTENCE}",
        ),
    }


def _rest() -> dict[str, forms.Field]:
    return {
        "notes": lines("Also good to know", rows=5),
        "documents": lines("Documents that hold the terms", rows=2),
        "paid_separately": tick("It is paid for separately"),
        "implied_disclaimed": tick("Implied warranties are disclaimed"),
        "ftc_waiver": word("Number of a waiver under 15 U.S.C. 2302(c) (optional)"),
        "advisory_because": sentence(
            "Outside the Act (optional)",
            help_text="Who decided, when and why, that every line is labor alone or new construction.",
        ),
    }


def promise_fields(kind: str) -> dict[str, forms.Field]:
    """The fields of what is promised for one kind of part, by the name of the promise's field."""
    return {
        "promised": tick(next(one.word for one in PART_KINDS if one.code == kind).capitalize()),
        "life_of": choice("Lasts", LIVES),
        "months": whole("Months", least=1),
        "full_months": whole("Full cost (months)"),
        "callout_fee": money(in_money("Call-out fee ({})")),
        "starts": choice("Starts", STARTS),
        "classified": choice("Kind of line", CLASSES),
        "covers": sentence("What is covered"),
        "where": word("Where"),
    }


def exclusion_fields(number: int) -> dict[str, forms.Field]:
    """The fields of one exclusion."""
    return {"code": word(f"Code of cause {number + 1}", most=40), "sentence": sentence(f"Cause {number + 1}, in words")}


def condition_fields(number: int) -> dict[str, forms.Field]:
    """The fields of one condition."""
    return {
        "sentence": sentence(f"Condition {number + 1}"),
        "provider": choice("Done by", PROVIDERS),
        "charge": money(in_money("Our charge ({})")),
    }


def override_field(code: str) -> forms.CharField:
    """Why a warning is let go."""
    return word(f"Reason for letting {code} go (optional)", most=300)


def form_field(field: str, kinds: Sequence[str], rows: Mapping[str, Sequence[int]]) -> str:
    """The field of the form at which a fault of the terms stands.

    ``kinds`` are the part kinds of the promises in their order, ``rows`` the numbers of the form's rows from which
    exclusions and conditions were read.
    """
    found = _PLACE.match(field)
    if found:
        name, place, inner = found[1], int(found[2]), found[3]
        if name == "promises":
            return f"promise-{kinds[place]}-{inner or 'months'}"
        return f"{name.removesuffix('s')}-{rows[name][place]}-{inner or 'sentence'}"
    if field == "transfer.allowed":
        return "transfer-way"
    whole_groups = {
        "promises": f"promise-{PART_KINDS[0].code}-promised",
        "exclusions": "nothing_excluded",
        "care": "care-asked",
        "text": "remedy",
        "implied_limit": "implied_limit-text",
        "consequential": "consequential-text",
        "transfer": "transfer-way",
    }
    bare = re.sub(r"\[\d+\]", "", field)
    return whole_groups.get(bare, bare.replace(".", "-"))


def field_of_problem(problem: str) -> str:
    """The field of the terms that a sentence about unreadable data begins with; empty when it names none."""
    found = _FIRST_WORD.match(problem)
    return found[0] if found else ""
