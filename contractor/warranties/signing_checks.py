"""System checks of the signing key: a site that can't sign, or that signs with a toy, is refused before it starts."""

from datetime import timedelta
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register

from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.warranties.signing_keys import DAYS_OF_WARNING, distrusted, is_open_to_others, stored_key

MAKE = "Run python manage.py signing_key make, or signing_key import FILE with one from a certificate authority."
ROTATE = "Run python manage.py signing_key rotate (or import); certificates signed before stay good."


@register(Tags.security, deploy=True)
def certificates_can_be_signed(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """warranties.E001 to E005 and W001: the key that signs certificates."""
    if settings.DEBUG:
        return []
    try:
        key = stored_key()
    except Refusal as refusal:
        return [Error(refusal.sentence, id="warranties.E001")]
    if key is None:
        return [Error("There is no key to sign certificates with.", hint=MAKE, id="warranties.E001")]
    if key.is_development:
        return [Error("Certificates would be signed with a development key.", hint=ROTATE, id="warranties.E002")]
    if is_open_to_others():
        hint = "Take the rights of group and others from current.pem in SIGNING_KEY_DIR (chmod 600)."
        return [Error("Other accounts of this machine can read the signing key.", hint=hint, id="warranties.E003")]
    if key.fingerprint in distrusted():
        return [Error("The signing key is no longer trusted.", hint=ROTATE, id="warranties.E005")]
    left = key.certificate.not_valid_after_utc - clock.now()
    if left < timedelta(0):
        return [Error("The signing key has expired.", hint=ROTATE, id="warranties.E004")]
    if left < timedelta(days=DAYS_OF_WARNING):
        return [Warning(f"The signing key expires in {left.days} days.", hint=ROTATE, id="warranties.W001")]
    return []
