"""Refusals about terms, warranties, claims, transfers and certificates."""

from collections.abc import Sequence
from datetime import date

from contractor.core.errors import Refusal


def _day(on: date) -> str:
    return f"{on:%B} {on.day}, {on.year}"


class ManagersOnly(Refusal):
    def __init__(self, what: str) -> None:
        super().__init__(f"Only a manager may {what}. Ask one to do it here, with the reason.")


class ReasonNeeded(Refusal):
    def __init__(self) -> None:
        super().__init__("Write down the reason; it stays on record.", field="because")


class TermsUnreadable(Refusal):
    """The data of a draft don't describe terms; ``problems`` has one sentence for each fault, with its place."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("These data don't describe warranty terms. " + " ".join(problems))


class EditionTaken(Refusal):
    def __init__(self, edition: str) -> None:
        super().__init__(
            f"There is an edition called “{edition}” already. Give this one a name of its own.", field="edition"
        )


class EditionFixed(Refusal):
    def __init__(self, edition: str) -> None:
        super().__init__(
            f"Edition {edition} is published and stays as it is, because houses rely on it. "
            "Draft a new edition instead."
        )


class DraftHalfTyped(Refusal):
    def __init__(self) -> None:
        super().__init__("Something typed into this draft can't be read yet. Put right what stands beside its fields.")


class SignedAfterIssue(Refusal):
    def __init__(self, issued_on: date) -> None:
        super().__init__(
            f"The contract comes before the warranty, which is issued on {_day(issued_on)}. Put one of the two right.",
            field="signed_on",
        )


class LinkNeedsEmail(Refusal):
    def __init__(self) -> None:
        super().__init__("A link goes by e-mail. Give the address, or choose another way.", field="email")


class ShownNobody(Refusal):
    def __init__(self) -> None:
        super().__init__("Give the name of the person who was shown the terms.", field="name")


class TermsBreakRules(Refusal):
    """Publishing was refused; ``broken`` names each rule (rules.broken.BrokenRule) with its field."""

    def __init__(self, broken: Sequence[object], sentences: Sequence[str]) -> None:
        self.broken = tuple(broken)
        super().__init__("These terms can't be published yet. " + " ".join(sentences))


class NotPublished(Refusal):
    def __init__(self, edition: str) -> None:
        super().__init__(
            f"Edition {edition} is a draft. Publish it first, or choose a published edition.", field="terms"
        )


class WarrantyThere(Refusal):
    def __init__(self, number: str) -> None:
        super().__init__(f"This system has a valid warranty already, {number}. Open that one.")


class NobodyOwns(Refusal):
    def __init__(self, on: date) -> None:
        super().__init__(
            f"Nobody is on record as the owner on {_day(on)}. Record the owner of the house first.", field="issued_on"
        )


class IssuedBeforeInstalled(Refusal):
    def __init__(self, installed_on: date) -> None:
        super().__init__(
            f"The system was installed on {_day(installed_on)}; a warranty can't be issued before that.",
            field="issued_on",
        )


class DayAhead(Refusal):
    def __init__(self, field: str) -> None:
        super().__init__("This day has not come yet. Choose today or an earlier day.", field=field)


class AlreadyVoid(Refusal):
    def __init__(self, voided_on: date) -> None:
        super().__init__(f"This warranty is void since {_day(voided_on)}. Nothing more can be done with it.")


class VoidBeforeIssue(Refusal):
    def __init__(self, issued_on: date) -> None:
        super().__init__(
            f"The warranty was issued on {_day(issued_on)}; it can't be void before that.", field="voided_on"
        )


class WaiverBackwards(Refusal):
    def __init__(self) -> None:
        super().__init__("The last day waived must not lie before the first.", field="last_on")


class NoCareAsked(Refusal):
    def __init__(self) -> None:
        super().__init__("These terms ask for no check-up, so there is nothing to waive.")


class ReportedBeforeLoss(Refusal):
    def __init__(self) -> None:
        super().__init__("A loss can't be reported before it happened. Check both days.", field="reported_on")


class NotOfThisSystem(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This part belongs to another system or is of another kind. Choose it again.", field="component"
        )


class ClaimSettled(Refusal):
    def __init__(self) -> None:
        super().__init__("This claim is settled already; its decision stays on record. Report a new claim if need be.")


class QuestionOpen(Refusal):
    """The record alone doesn't settle a claim; ``question`` is what a person has to answer."""

    def __init__(self, question: str) -> None:
        self.question = question
        super().__init__(f"A person has to answer this first: {question}", field="caused")


class TransferOpen(Refusal):
    def __init__(self) -> None:
        super().__init__("A transfer of this warranty is under way already. Open that one, or withdraw it first.")


class NobodySells(Refusal):
    def __init__(self) -> None:
        super().__init__("Nobody is on record as the owner of this house. Record the present owner first.")


class BuyerIsOwner(Refusal):
    def __init__(self, name: str, since: date) -> None:
        super().__init__(
            f"{name} is on record as the owner since {_day(since)}. Give that day as the closing day, "
            "or choose the buyer again.",
            field="closing_on",
        )


class ClosingTooEarly(Refusal):
    def __init__(self, earliest: date) -> None:
        super().__init__(
            f"The closing can't be before {_day(earliest)}: that is the day the seller's time, this warranty or its "
            "last transfer began. Check the day.",
            field="closing_on",
        )


class ClosingTooFar(Refusal):
    def __init__(self, latest: date) -> None:
        super().__init__(
            f"The closing is more than a year away (after {_day(latest)}). Check the year, or ask nearer the day.",
            field="closing_on",
        )


class ClosingSame(Refusal):
    def __init__(self, on: date) -> None:
        super().__init__(f"The closing is on {_day(on)} already. Give the new day.", field="closing_on")


class ClosingOfRecord(Refusal):
    def __init__(self, on: date) -> None:
        super().__init__(
            f"On record the house changed hands on {_day(on)}. Give that day, or have the record of owners "
            "corrected first.",
            field="closing_on",
        )


class BuyerIsSeller(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Buyer and seller have the same e-mail address. Give the buyer's own: their link goes there, and the "
            "seller must not open it.",
            field="email",
        )


class ClosingAhead(Refusal):
    def __init__(self, closing_on: date) -> None:
        super().__init__(
            f"The closing is on {_day(closing_on)}. The certificate can be issued on that day, because until then "
            "the seller owns the house."
        )


class TransferSettled(Refusal):
    def __init__(self, state: str) -> None:
        super().__init__(f"This transfer is {state} and can't be changed any more. Ask for a new one if need be.")


class NotIssued(Refusal):
    def __init__(self) -> None:
        super().__init__("Only an issued transfer can be revoked; withdraw this one instead.")


class LaterTransfer(Refusal):
    def __init__(self) -> None:
        super().__init__("A later transfer of this warranty was issued after it. Revoke that one first.")


class RequirementUnknown(Refusal):
    def __init__(self) -> None:
        super().__init__("There is no such open requirement. Look at the list again.", field="code")


class RequirementStands(Refusal):
    def __init__(self) -> None:
        super().__init__("Nobody may let this requirement go; it has to be met.", field="code")


class RequirementsMissing(Refusal):
    """A transfer can't be issued yet; ``missing`` has the requirements (rules.transfers.Requirement)."""

    def __init__(self, missing: Sequence[object], sentences: Sequence[str]) -> None:
        self.missing = tuple(missing)
        super().__init__("The certificate can't be issued yet. " + " ".join(sentences))


class NameNeeded(Refusal):
    def __init__(self) -> None:
        super().__init__("Write the name as it was signed.", field="name")


class AlreadyAccepted(Refusal):
    def __init__(self, on: date) -> None:
        super().__init__(f"The buyer accepted on {_day(on)} already; nothing more is needed.")


class NotAccepted(Refusal):
    def __init__(self) -> None:
        super().__init__("There is no acceptance to set aside. Look at the list again.")


class ConsentNeeded(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Tick that you agree to do this electronically, or choose the paper way: it costs nothing more.",
            field="consent",
        )


class DocumentNotOpened(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Open the document first, on this device: that shows that you can read it here. Then accept.",
            field="intent",
        )


class DocumentChanged(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The document has changed since you opened it, because something at the house or in the sale did. "
            "Open it once more; what you accept is what you have read.",
            field="intent",
        )


class LinkGone(Refusal):
    def __init__(self) -> None:
        super().__init__("There is no such link in this sale. Look at the list of people again.")


class NothingInForce(Refusal):
    def __init__(self, on: date) -> None:
        super().__init__(
            f"No promise of this warranty is in force on {_day(on)}, so there is nothing to certify. "
            "The warranty's page says why."
        )


class HolderUnknown(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The present owner of the house is not on record as the holder of this warranty. "
            "Ask for a transfer; its certificate names them."
        )


class NoSigningKey(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This certificate can't be signed yet, because this installation has no signing key. Ask whoever runs it "
            "to make one: python manage.py signing_key make. The certificate itself is recorded; nothing is lost."
        )


class SigningKeyExpired(Refusal):
    def __init__(self, last_on: date) -> None:
        super().__init__(
            f"The signing key could be used until {_day(last_on)}. Ask whoever runs this installation to put a new one "
            "in its place: python manage.py signing_key rotate (or import). Certificates signed before stay good."
        )


class KeyUnreadable(Refusal):
    def __init__(self, why: str) -> None:
        super().__init__(f"The signing key can't be read: {why}. Look at the file and its passphrase.")


class SigningKeyUnfit(Refusal):
    def __init__(self, why: str) -> None:
        super().__init__(f"This file can't be used to sign certificates. {why}")


class SigningKeyThere(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "There is a signing key already. To put a new one in its place, run: python manage.py signing_key rotate."
        )


class TimestampFailed(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The time-stamp service gave no answer, so the certificate isn't signed yet. Try again in a few minutes; "
            "the certificate itself is recorded and nothing is lost."
        )


class PeriodBackwards(Refusal):
    def __init__(self) -> None:
        super().__init__("The last day must not lie before the first. Check both.", field="until_on")


class PeriodTooLong(Refusal):
    def __init__(self, latest: date) -> None:
        super().__init__(
            f"A year has twelve months at most: choose {_day(latest)} or an earlier last day.", field="until_on"
        )


class PeriodAhead(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "What claims will cost by then is not known yet. Choose today or an earlier last day.", field="until_on"
        )


class PeriodNotOver(Refusal):
    def __init__(self, until_on: date) -> None:
        super().__init__(
            f"This year is not over: claims may still be decided through {_day(until_on)}. Close it after that day.",
            field="until_on",
        )


class LiabilityYearClosed(Refusal):
    """A year, or a day in it, was closed before; closed figures stay as they are."""

    def __init__(self, next_on: date) -> None:
        super().__init__(
            f"These days are closed already, and closed figures stay as they are. The next year begins on "
            f"{_day(next_on)}.",
            field="from_on",
        )


class LiabilityYearSkipped(Refusal):
    def __init__(self, next_on: date) -> None:
        super().__init__(
            f"Closed years follow each other without a gap: begin this one on {_day(next_on)}.", field="from_on"
        )


class NotRead(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "Say that the figures were looked at before closing; a closed year can't be changed.", field="is_read"
        )


class CertificateFileLost(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The file of this certificate is missing and can't be made again as it was signed. Put it back from the "
            "backup, or issue a new certificate, which takes its place."
        )
