"""Refusals about houses and their owners."""

from datetime import date

from contractor.core.errors import Refusal


class AddressTaken(Refusal):
    """``property_id`` is the house that stands there already, so that a page can lead to it."""

    def __init__(self, address_line: str, property_id: int) -> None:
        super().__init__(
            f"This house is registered already as {address_line}. Open it instead, or correct the address.",
            field="street",
        )
        self.property_id = property_id


class HandOverBeforePurchase(Refusal):
    def __init__(self, from_on: date) -> None:
        super().__init__(
            f"The present owner has owned the house since {from_on:%B} {from_on.day}, {from_on.year}. "
            "Give a day after that.",
            field="on",
        )


class SameOwner(Refusal):
    def __init__(self) -> None:
        super().__init__("This person owns the house already. Choose the buyer, or correct the name.", field="name")


class NoOwner(Refusal):
    def __init__(self) -> None:
        super().__init__("Nobody is recorded as the present owner of this house. Record the owner first.")


class NoEmail(Refusal):
    def __init__(self) -> None:
        super().__init__("This owner has no e-mail address, so the link can't be sent. Add one first.", field="email")


class NotOnEarth(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Latitude lies between -90 and 90 and longitude between -180 and 180. Check which comes first.",
            field="position",
        )
