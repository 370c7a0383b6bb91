"""Refusals about what buyers and agents ask: each sentence is read by somebody outside, or by the desk."""

from datetime import date

from contractor.core.errors import Refusal


def _day(on: date) -> str:
    return f"{on:%B} {on.day}, {on.year}"


class CertificateWithdrawn(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This certificate was revoked, so nothing can be asked for with it. Call us before you close: we tell you "
            "how things stand."
        )


class WarrantyIsVoid(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The warranty of this certificate is void, so there is nothing to transfer. Questions? Call us before you "
            "close."
        )


class PassedOnSince(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The warranty of this certificate has passed to a later owner since it was issued. Ask the seller for the "
            "newest certificate and use its number and code, or call us."
        )


class ClosingLongAgo(Refusal):
    def __init__(self) -> None:
        super().__init__("The closing day lies before this warranty began. Check the year.", field="closing_on")


class ClosingYearsAhead(Refusal):
    def __init__(self, latest: date) -> None:
        super().__init__(
            f"The closing is more than a year away (after {_day(latest)}). Check the year, or leave it empty until "
            "the day is known.",
            field="closing_on",
        )


class TooManyAsk(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Several people have asked with this certificate already, and we have not answered them all. Call us: "
            "that is quicker now."
        )


class InquirySettled(Refusal):
    def __init__(self, state: str) -> None:
        super().__init__(f"This was answered already: {state}. Nothing more is needed here.")


class NoSaleUnderWay(Refusal):
    def __init__(self) -> None:
        super().__init__("No transfer of this warranty is under way any more. Begin one from here, or decline.")


class AnotherBuyer(Refusal):
    def __init__(self, buyer: str) -> None:
        super().__init__(
            f"The transfer under way is to {buyer}, at another e-mail address. Ask the seller who buys: then decline "
            "this one with a reason, or withdraw that transfer first."
        )


class NoAddressToAdd(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "They left no e-mail address, and a part in the sale is opened by a link in an e-mail. Call them for one, "
            "and add them on the transfer’s page; then decline this one and say that they are in."
        )
