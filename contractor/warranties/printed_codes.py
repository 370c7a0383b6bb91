"""What is printed beside a certificate's number, and the numbers of warranties.

The check code is the second element that the check page asks for: six random symbols of the alphabet of the
certificate numbers. The token in the QR code stands for number and code together.
"""

import secrets

from contractor.warranties.numbers import ALPHABET, display_number, draw_number

CHECK_CODE_LENGTH = 6
TOKEN_BYTES = 20  # 160 random bits
WARRANTY_MARK = "W"
_LOOKALIKES = str.maketrans({"I": "1", "L": "1", "O": "0"})


def draw_check_code() -> str:
    """A new check code."""
    return "".join(secrets.choice(ALPHABET) for _ in range(CHECK_CODE_LENGTH))


def draw_token() -> str:
    """A new secret for the address in a QR code."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def normal_code(typed: str) -> str:
    """A check code as it is kept: capitals, no spaces or hyphens, I and L for 1, O for 0."""
    return "".join(sign for sign in typed.upper() if sign.isalnum()).translate(_LOOKALIKES)


def draw_warranty_number() -> str:
    """A new warranty number: a W, then eight random symbols and their check character, as certificates have."""
    return WARRANTY_MARK + draw_number()


def display_warranty_number(number: str) -> str:
    """A warranty number as it is printed: ``W-7K3M-9QX2-C``."""
    return f"{WARRANTY_MARK}-{display_number(number.removeprefix(WARRANTY_MARK))}"
