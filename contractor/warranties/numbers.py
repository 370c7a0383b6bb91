"""Certificate numbers: drawn at random, safe to read out over the telephone, with a character that catches slips.

Eight random symbols of Crockford's base 32 alphabet (40 bits, no I, L, O or U) and one ISO 7064 MOD 37-2 check
character. A check character is no secret: whoever asks about a certificate still needs what is printed beside it.
"""

import re
import secrets
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass

from stdnum.iso7064 import mod_37_2

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
BODY_LENGTH = 8
NUMBER_LENGTH = BODY_LENGTH + 1

# Spaces and every kind of dash, as people copy them from letters and web pages.
_SEPARATORS = re.compile(r"[\s\-\u2010-\u2015\u2212.]+")
_LOOKALIKES = str.maketrans({"I": "1", "L": "1", "O": "0"})


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedNumber:
    """What somebody typed, read as a certificate number.

    ``number`` is the normal form when it is well formed (whether such a certificate exists is another question),
    else None; ``slip`` then says in a sentence what to look at.
    """

    number: str | None
    slip: str = ""


def check_character(body: str) -> str:
    """The ISO 7064 MOD 37-2 check character of some digits and capital letters; it may be an asterisk."""
    return str(mod_37_2.calc_check_digit(body))


def draw_number(choose: Callable[[str], str] = secrets.choice) -> str:
    """A new number in normal form: nine symbols without separators.

    ``choose`` picks one symbol of the alphabet. A body whose check character lies outside the alphabet is drawn
    again, so that all nine symbols can be read out.
    """
    while True:
        body = "".join(choose(ALPHABET) for _ in range(BODY_LENGTH))
        check = check_character(body)
        if check in ALPHABET:
            return body + check


def display_number(number: str) -> str:
    """A number in normal form as it is printed: ``7K3M-9QX2-C``."""
    return f"{number[:4]}-{number[4:BODY_LENGTH]}-{number[BODY_LENGTH:]}"


def read_number(typed: str) -> TypedNumber:
    """Read what somebody typed: any case, any spaces and hyphens, I and L for 1, O for 0."""
    plain = _SEPARATORS.sub("", unicodedata.normalize("NFKC", typed)).upper().translate(_LOOKALIKES)
    strange = sorted({symbol for symbol in plain if symbol not in ALPHABET})
    if not plain:
        return TypedNumber(number=None, slip="Type the number printed on the certificate.")
    if strange:
        shown = ", ".join(strange)
        return TypedNumber(
            number=None, slip=f"A certificate number never has {shown} in it; compare it with the certificate."
        )
    if len(plain) != NUMBER_LENGTH:
        return TypedNumber(
            number=None,
            slip=f"A certificate number has {NUMBER_LENGTH} letters and digits; this one has {len(plain)}.",
        )
    if not mod_37_2.is_valid(plain):
        return TypedNumber(
            number=None, slip="One of the letters or digits is mistyped; compare them with the certificate."
        )
    return TypedNumber(number=plain)
