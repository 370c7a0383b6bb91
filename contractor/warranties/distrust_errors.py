"""Refusals about a signing key that leaked."""

from contractor.core.errors import Refusal


class SigningKeyDistrusted(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "The signing key is no longer trusted, so nothing is signed with it. Ask whoever runs this installation to "
            "put a new one in its place: python manage.py signing_key rotate (or import)."
        )


class SigningKeyUnknown(Refusal):
    def __init__(self, fingerprint: str) -> None:
        super().__init__(
            f"No key of this installation has the fingerprint {fingerprint}. Run python manage.py signing_key show, "
            "and type at least the first sixteen digits of the one that leaked."
        )


class DistrustedFromAhead(Refusal):
    def __init__(self) -> None:
        super().__init__(
            "This day has not come yet. Say the first day on which strangers may have had the key: today or earlier."
        )
