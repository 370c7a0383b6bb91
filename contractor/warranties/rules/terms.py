"""Terms of a written warranty: what an edition promises, on what conditions, and in which words.

A published edition is never edited; a new one is published. The small fields (promises, care, transfer, exclusion
codes) drive standing, claims and transfers; the words are what the law wants said and what people read. Values
refuse what can never be; what a draft may still lack is named by ``publishing``. Not legal advice: wording needs a
lawyer's eye.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from contractor.systems.part_kinds import BY_CODE

Jurisdiction = Literal["US", "CA"]
Designation = Literal["FULL", "LIMITED", "WRITTEN"]
Life = Literal["structure", "product", "ownership"]
Classified = Literal["equipment", "materials_improvement", "labour_only", "new_construction", "unknown"]

SHORTEST_MONTH_DAYS = 28
CENT = Decimal("0.01")


def refuse_bad_amount(amount: Decimal, what: str) -> None:
    """Raise ValueError unless ``amount`` is zero or more and whole cents."""
    if not amount.is_finite() or amount < 0 or amount != amount.quantize(CENT):
        raise ValueError(f"{what} must be an amount of zero or more in whole cents, not {amount}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """What is promised for one kind of part, and for how long.

    ``months`` counts from the issue day, or with ``starts="component"`` from the day each component went in;
    None means for a life, which ``life_of`` must name. Until ``full_months`` the contractor bears all of a repair,
    from then to the end a share that falls to nothing; None means all of it to the end. ``callout_fee`` is the
    owner's, in dollars. ``covers`` and ``where`` say in words what is covered and in which place.
    ``classified`` is the line's kind under 16 CFR 700.1; unknown counts as covered by the Act.
    """

    part_kind: str
    months: int | None
    full_months: int | None = None
    callout_fee: Decimal = Decimal(0)
    starts: Literal["issue", "component"] = "issue"
    life_of: Life | None = None
    covers: str = ""
    where: str = ""
    classified: Classified = "unknown"

    def __post_init__(self) -> None:
        if self.part_kind not in BY_CODE:
            raise ValueError(f"There is no part kind {self.part_kind!r}.")
        if self.months is not None and self.months < 1:
            raise ValueError(f"A promise lasts at least one month, not {self.months}.")
        if self.months is not None and self.life_of is not None:
            raise ValueError("A promise lasts a number of months or a life, not both.")
        if self.full_months is not None and (self.months is None or not 0 <= self.full_months < self.months):
            raise ValueError("The months at full cost must end before the promise does, and a life has none.")
        refuse_bad_amount(self.callout_fee, "The call-out fee")


@dataclass(frozen=True, slots=True, kw_only=True)
class CareRule:
    """The check-up the terms ask for: how often, how early and how late it counts, what it costs, who may do it.

    ``charge`` is what this company asks for it, in dollars. ``when_missed="judge"`` leaves cover as it is and makes
    the gap evidence for a claim; ``"suspend"`` stops cover after the grace until a reinstatement check-up passed.
    """

    every_months: int
    early_days: int
    grace_days: int
    charge: Decimal
    any_provider: bool
    when_missed: Literal["judge", "suspend"] = "judge"

    def __post_init__(self) -> None:
        if self.every_months < 1 or self.early_days < 0 or self.grace_days < 0:
            raise ValueError("A check-up falls due every month or more, with no fewer than zero days either side.")
        if self.early_days + self.grace_days >= SHORTEST_MONTH_DAYS * self.every_months:
            raise ValueError("The days a check-up may be early and late must not reach from one due day to the next.")
        refuse_bad_amount(self.charge, "The charge for a check-up")


@dataclass(frozen=True, slots=True, kw_only=True)
class TransferRule:
    """On what terms a later owner takes over. ``most`` and the days are None where the terms set none.

    ``months_after``: on a transfer a promise for a life becomes this many months from the transfer, never longer
    than what was left; None leaves it a life (an ownership's life ends all the same).
    """

    allowed: bool
    most: int | None = None
    notice_days: int | None = None
    fee: Decimal = Decimal(0)
    checkup_within_days: int | None = None
    months_after: int | None = None

    def __post_init__(self) -> None:
        for name in ("most", "notice_days", "checkup_within_days"):
            value = getattr(self, name)
            if value is not None and value < 0:
                raise ValueError(f"{name} of a transfer rule cannot be {value}.")
        if self.months_after is not None and self.months_after < 1:
            raise ValueError(f"months_after of a transfer rule cannot be {self.months_after}.")
        refuse_bad_amount(self.fee, "The transfer fee")


@dataclass(frozen=True, slots=True, kw_only=True)
class Exclusion:
    """One cause of loss that is not covered: the code a claim names and the sentence an owner reads."""

    code: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """Something the owner must do besides check-ups; ``provider`` is who has to do it, at which ``charge``."""

    sentence: str
    provider: Literal["owner", "any", "ours"] = "owner"
    charge: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Warrantor:
    """Who gives the warranty and how to reach it; one of address, department or toll-free telephone is needed.

    ``trade_names`` are the other names it is known by, which clauses must not tie service to.
    """

    legal_name: str
    address: str = ""
    department: str = ""
    toll_free_phone: str = ""
    trade_names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ImpliedLimit:
    """A limit on how long implied warranties last: ``months``, or None for as long as the written promise.

    ``sentence`` is the prescribed one that must stand in the same block; ``on_face`` puts the block on page one.
    """

    text: str
    sentence: str
    on_face: bool = True
    months: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ConsequentialExclusion:
    """The exclusion of incidental or consequential loss with its prescribed sentence."""

    text: str
    sentence: str
    on_face: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Dispute:
    """An out-of-court procedure; with ``prior_resort`` an owner must try it before going to court."""

    mechanism: str
    prior_resort: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """One edition of warranty terms. ``care`` None asks for no check-up; ``transfer`` None restricts no later owner.

    ``extended_to_words`` names the persons when not every owner may use the warranty. ``advisory_because`` is the
    recorded human decision (who, when, why) that none of the lines is a consumer product. ``ftc_waiver`` is the
    number of a waiver under 15 U.S.C. 2302(c). ``paid_separately`` marks a paid plan, which is no warranty.
    ``warrantor`` is filled in from the company before publishing. ``jurisdiction`` chooses the rules that publishing
    runs. FULL and LIMITED are designations of the law of the United States; elsewhere terms are WRITTEN.
    ``provinces`` (two-letter codes) are those in which Canadian terms are used, and ``french_document`` names the
    French text that goes with them.
    """

    edition: str
    designation: Designation
    promises: tuple[Promise, ...]
    care: CareRule | None
    transfer: TransferRule | None
    exclusions: tuple[Exclusion, ...]
    title: str = ""
    warrantor: Warrantor | None = None
    extended_to: Literal["every_owner", "named"] = "every_owner"
    extended_to_words: str = ""
    remedy: str = ""
    pays_for: tuple[str, ...] = ()
    not_paid: tuple[str, ...] = ()
    start_event: str = ""
    care_words: str = ""
    care_proof: str = ""
    conditions: tuple[Condition, ...] = ()
    claim_steps: tuple[str, ...] = ()
    transfer_words: str = ""
    repeat_failure_remedy: str = ""
    registration: Literal["none", "condition", "not_a_condition"] = "none"
    registration_words: str = ""
    implied_disclaimed: bool = False
    implied_limit: ImpliedLimit | None = None
    consequential: ConsequentialExclusion | None = None
    rights_sentence: str = ""
    dispute: Dispute | None = None
    notes: tuple[str, ...] = ()
    documents: tuple[str, ...] = ("warranty",)
    nothing_excluded: bool = False
    paid_separately: bool = False
    ftc_waiver: str = ""
    advisory_because: str = ""
    jurisdiction: Jurisdiction = "US"
    provinces: tuple[str, ...] = ()
    french_document: str = ""

    def __post_init__(self) -> None:
        kinds = [promise.part_kind for promise in self.promises]
        twice = sorted({kind for kind in kinds if kinds.count(kind) > 1})
        if twice:
            raise ValueError(f"More than one promise for {', '.join(twice)}.")
        codes = [exclusion.code for exclusion in self.exclusions]
        if len(codes) != len(set(codes)):
            raise ValueError("Two exclusions have the same code.")

    def promise_for(self, part_kind: str) -> Promise | None:
        """The promise for this kind of part, or None when the terms make none."""
        return next((promise for promise in self.promises if promise.part_kind == part_kind), None)

    @property
    def kind_in_words(self) -> str:
        """What people call it: "limited warranty"."""
        return f"{self.designation.lower()} warranty"

    @property
    def transfer_limits(self) -> TransferRule | None:
        """The transfer rule as it binds: a full warranty restricts no later owner (16 CFR 700.6(b))."""
        return None if self.designation == "FULL" else self.transfer
