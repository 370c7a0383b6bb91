"""The link with which somebody ends offers to their address."""

from datetime import datetime

from django.core import signing
from django.urls import reverse

from contractor.notices.models import Notice

NO_OFFERS_SALT = "no more offers"


def no_offers_link(*, notice: Notice, key: int | None, at: datetime) -> str | None:
    """A link that ends offers to the address of a message; for ``personal_links``.

    Signed instead of kept: it has to work for as long as somebody keeps the mail (at least 30 days by 15 U.S.C.
    7704(a)(3), 60 in Canada), and opens nothing.
    """
    return reverse("portal:no_offers", args=[signing.dumps(notice.address, salt=NO_OFFERS_SALT, compress=True)])


def read_no_offers(token: str) -> str:
    """The address in such a link. Raises signing.BadSignature for any other."""
    return str(signing.loads(token, salt=NO_OFFERS_SALT))
