"""Refusals of the tablet's door, written for whoever holds the tablet or sits in the office."""

from contractor.core.errors import Refusal


class NotSignedIn(Refusal):
    def __init__(self) -> None:
        super().__init__("Sign in to get new rounds. What is on this tablet stays here until it has been received.")


class NotYourStop(Refusal):
    def __init__(self) -> None:
        super().__init__("This visit is not yours any more. Get the newest rounds, or call the office.")


class KeyEnded(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This tablet's key is no longer good. Sign in, and it gets a new one; everything on it stays until then."
        )


class FromAnotherSite(Refusal):
    def __init__(self) -> None:
        super().__init__("This came from another website and was not taken. Open the tablet's own page.")


class NotRegistered(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The office does not know this tablet yet. Open “Sign in”, give the tablet its name and get it ready; it "
            "gets its rounds then."
        )


class DeviceRevoked(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The office has closed this tablet. Save its work to a file on the tablet's page and hand the file in at "
            "the office; use another tablet for new rounds."
        )


class UnreadableRequest(Refusal):
    def __init__(self) -> None:
        super().__init__("This could not be read and was not taken. Reload the page and send it again.")


class TooMuchAtOnce(Refusal):
    def __init__(self, most_items: int, most_bytes: int) -> None:
        super().__init__(f"Send at most {most_items} items and {most_bytes // 1000} kB at once.")
        self.most_items, self.most_bytes = most_items, most_bytes


class TooOften(Refusal):
    def __init__(self, seconds: int) -> None:
        super().__init__(f"This tablet asks very often. It tries again by itself in {seconds} seconds.")
        self.seconds = seconds


class Busy(Refusal):
    def __init__(self, seconds: int) -> None:
        super().__init__(
            "The office's server can't keep anything at the moment. Everything stays on this tablet, which tries again "
            "by itself."
        )
        self.seconds = seconds


class WrongOffset(Refusal):
    def __init__(self, offset: int) -> None:
        super().__init__(f"The office has {offset} bytes of this photo. Go on from there.")
        self.offset = offset


class PhotoSpoiled(Refusal):
    def __init__(self) -> None:
        super().__init__("This photo changed on its way. It is sent again from its beginning.")


class PhotoTooBig(Refusal):
    def __init__(self, megabytes: int) -> None:
        super().__init__(f"A photo may have up to {megabytes} MB. Take it at a lower resolution.")


class Unreadable(Refusal):
    """An item that is no event; ``code`` says why in one word, for lists."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code


class AlreadyDecided(Refusal):
    def __init__(self) -> None:
        super().__init__("Somebody has decided on this already. Reload the page to see how.")


class ReasonMissing(Refusal):
    def __init__(self) -> None:
        super().__init__("Say in a few words why.", field="because")


class NoConflict(Refusal):
    def __init__(self) -> None:
        super().__init__("These two answers no longer stand against each other. Reload the page to see what holds now.")


class UnreadableFile(Refusal):
    def __init__(self, what: str) -> None:
        super().__init__(f"This is no file that a tablet saved: {what} Choose the file again.", field="file")


class StillUnreadable(Refusal):
    def __init__(self, why: str) -> None:
        super().__init__(f"It could not be taken this time either: {why} It stays set aside.")


class NothingToDecide(Refusal):
    def __init__(self) -> None:
        super().__init__("There is nothing to decide about this visit any more. Reload the page to see how it stands.")
