"""Refusals about care plans: service contracts, never warranties."""

from datetime import date

from contractor.core.errors import Refusal


def _day(on: date) -> str:
    return f"{on:%B} {on.day}, {on.year}"


class NeverAWarranty(Refusal):
    """A paid plan is a service contract: 16 CFR 700.11 keeps the two apart."""

    def __init__(self, word: str) -> None:
        super().__init__(
            f"A paid plan is a service contract and may not be titled “{word}”. Choose a name such as “Yearly care”.",
            field="title",
        )


class PriceNotPositive(Refusal):
    def __init__(self) -> None:
        super().__init__("The price has to be more than nothing. Type what a year costs, before tax.", field="price")


class TaxOutOfRange(Refusal):
    def __init__(self) -> None:
        super().__init__("A tax rate lies between 0 and 30 percent. Type 6 for six percent.", field="tax_percent")


class OfferSaysTooLittle(Refusal):
    """Names everything that a plan has to say before anybody can agree to it."""

    def __init__(self, lacking: list[str]) -> None:
        super().__init__(f"Before it can be offered, the plan has to say {'; '.join(lacking)}.")
        self.lacking = lacking


class OfferEditionTaken(Refusal):
    def __init__(self, edition: str) -> None:
        super().__init__(f"There is an edition {edition} already. Give this one another name.", field="edition")


class OfferFixed(Refusal):
    def __init__(self, edition: str) -> None:
        super().__init__(f"Edition {edition} is published and stays as it is. Draft a new edition instead.")


class OfferNotOpen(Refusal):
    def __init__(self) -> None:
        super().__init__("This plan is not offered now. Choose one of the plans that are.", field="offer")


class OfferedAlready(Refusal):
    def __init__(self, on: date, season: str) -> None:
        super().__init__(
            f"This owner was offered a plan on {_day(on)}. One offer a season is enough; the {season} brings the next."
        )


class HasPlan(Refusal):
    def __init__(self, until: date) -> None:
        super().__init__(f"This house has a plan through {_day(until)}. Its renewal is announced by itself.")


class ManagersDecide(Refusal):
    def __init__(self, what: str) -> None:
        super().__init__(f"Only a manager may {what}. Ask one to do it.")


class EndsBeforeItBegins(Refusal):
    def __init__(self) -> None:
        super().__init__("The last day lies before the first. Give a later last day.", field="until_on")


class PlanRunsAlready(Refusal):
    def __init__(self, through_on: date) -> None:
        super().__init__(
            f"This house has a care plan already, through {_day(through_on)}. Let the new one begin after that, or "
            "cancel the present one first.",
            field="from_on",
        )


class NotTheOwner(Refusal):
    def __init__(self) -> None:
        super().__init__("A plan is agreed with the present owner of the house. Record the owner first.")


class NoConsent(Refusal):
    """15 U.S.C. 8403: express informed consent before anything is charged."""

    def __init__(self) -> None:
        super().__init__(
            "The plan and its price have to be agreed to in so many words. Tick the box once the owner has said yes.",
            field="consent",
        )


class NoConsentToRenewal(Refusal):
    """15 U.S.C. 8403: renewing by itself takes a consent of its own."""

    def __init__(self) -> None:
        super().__init__(
            "Renewing by itself needs the owner’s own yes to exactly that. Tick the box for it, or choose that we ask.",
            field="consent_renewal",
        )


class PlanOver(Refusal):
    def __init__(self, ended_on: date) -> None:
        super().__init__(f"This plan ended on {_day(ended_on)}. Nothing is left to cancel or change.")


class CancelledAlready(Refusal):
    def __init__(self, cancelled_on: date) -> None:
        super().__init__(f"This plan was cancelled as of {_day(cancelled_on)} already. Once is enough.")


class RenewedAlready(Refusal):
    def __init__(self) -> None:
        super().__init__("This year has been renewed already. Open the next year’s agreement instead.")


class NothingToStop(Refusal):
    def __init__(self) -> None:
        super().__init__("This plan does not renew. It simply ends on its last day.")


class RenewalNotYetOffered(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The owner has not been sent the renewal notice yet. It goes out by itself in the window that the "
            "state’s rule gives; renew after that.",
        )


class NothingToTakeOver(Refusal):
    def __init__(self) -> None:
        super().__init__("There is no plan of an earlier owner that could be taken over. Choose a new one.")


class AmountNotPositive(Refusal):
    def __init__(self) -> None:
        super().__init__("Type an amount of at least one cent.", field="amount")


class MoreThanOwed(Refusal):
    def __init__(self, owed: str) -> None:
        super().__init__(
            f"Only {owed} is owed on this invoice. Record at most that; give back what is over.",
            field="amount",
        )


class MoreThanToRefund(Refusal):
    def __init__(self, due: str) -> None:
        super().__init__(f"Only {due} is to be given back on this invoice.", field="amount")


class ReceivedInFuture(Refusal):
    def __init__(self) -> None:
        super().__init__("This day lies ahead. Give the day on which the money came or went.", field="on")


class CorrectedAlready(Refusal):
    def __init__(self) -> None:
        super().__init__("This entry has its counter-entry already. Record the right payment as a new one.")


class CounterEntryStays(Refusal):
    def __init__(self) -> None:
        super().__init__("A counter-entry is not corrected itself. Record the right payment as a new one.")


class NoReason(Refusal):
    def __init__(self) -> None:
        super().__init__("Say in a few words why.", field="because")


class BadNoticeDays(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The first day has to lie before the last: at most 180 and at least 1 day before the renewal, the larger "
            "number first.",
            field="first_days",
        )


class PeriodUpsideDown(Refusal):
    def __init__(self) -> None:
        super().__init__("The last day lies before the first. Turn them round.", field="until_on")
