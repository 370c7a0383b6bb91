"""A signed word that number and code of a certificate were right, carried by a form from the check to the next page.

So nobody types both twice, and no code stands in a page, an address or a session.
"""

from datetime import datetime, timedelta

from django.core.signing import BadSignature, Signer

LASTS = timedelta(hours=12)
_signer = Signer(salt="certificate held")


def proof_of(number: str, *, at: datetime) -> str:
    """The word for a certificate that was shown to be held at this moment."""
    return _signer.sign_object([number, (at + LASTS).isoformat()])


def number_proven(proof: str, *, at: datetime) -> str:
    """The number of the certificate; empty when the word is not ours or too old."""
    try:
        number, until = _signer.unsign_object(proof)
    except (BadSignature, ValueError, TypeError):
        return ""
    return str(number) if at < datetime.fromisoformat(until) else ""
