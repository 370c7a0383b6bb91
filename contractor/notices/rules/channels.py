"""Which way a message goes, and which messages sell something."""

from dataclasses import dataclass

# 15 U.S.C. 7702(17): what tells of a warranty, a visit or an agreement that exists is transactional; what wants to sell
# is commercial and carries a postal address and a way to hear no more of it (15 U.S.C. 7704(a)(5)). A lawyer should
# read a new template before it is put into either.
COMMERCIAL = frozenset({"plan_offer"})
# Messages about a visit go to whoever owns the house at the moment of sending, and to nobody else.
ABOUT_VISITS = frozenset(
    {
        "appointment_set",
        "appointment_moved",
        "appointment_cancelled",
        "appointment_called_off",
        "appointment_confirmed",
        "visit_reminder",
        "visit_on_the_way",
    }
)
TEXT, EMAIL, LETTER = "text", "email", "letter"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """How a person can be reached: their addresses, what they wish, and whether they stopped our texts."""

    email: str
    number: str
    wants_email: bool
    wants_texts: bool
    stopped_texts: bool


def ways_for(reach: Reach, *, has_short: bool, asked_for: bool) -> tuple[str, ...]:
    """The ways a message may go, the wished one first and a letter last.

    ``has_short``: it is short enough for a text. ``asked_for``: the person waits for it, so that a wish for letters
    doesn't hold it back.
    """
    ways = []
    if has_short and reach.number and reach.wants_texts and not reach.stopped_texts:
        ways.append(TEXT)
    if reach.email and (reach.wants_email or asked_for):
        ways.append(EMAIL)
    return (*ways, LETTER)


def way_after(failed: str, ways: tuple[str, ...]) -> str | None:
    """The next way once one has failed for good; None when there is none."""
    if failed not in ways:
        return None
    later = ways[ways.index(failed) + 1 :]
    return later[0] if later else None


def dialled(phone: str) -> str:
    """A telephone number of North America as a gateway dials it ("(555) 555-0142" gives "+15555550142").

    Empty for anything else: extensions, half numbers, other countries without their plus sign.
    """
    digits = "".join(character for character in phone if character.isascii() and character.isdigit())
    if phone.strip().startswith("+"):
        return f"+{digits}" if 8 <= len(digits) <= 15 else ""
    if len(digits) == 11 and digits.startswith("1"):
        return f"+{digits}"
    return f"+1{digits}" if len(digits) == 10 else ""
