"""System checks: a configuration that would hurt is refused at start, with an id and what to do."""

from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register


@register(Tags.security, deploy=True)
def secret_key_is_our_own(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """contractor.E001: the development key must never sign anything real."""
    if settings.DEBUG or (settings.SECRET_KEY and not settings.SECRET_KEY.startswith("development-only")):
        return []
    return [
        Error("SECRET_KEY is missing.", hint="Set SECRET_KEY to 50 random characters or more.", id="contractor.E001")
    ]


@register(Tags.security, deploy=True)
def links_lead_to_a_real_address(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """contractor.E002: links in letters and QR codes are made from SITE_ADDRESS."""
    if settings.DEBUG or settings.SITE_ADDRESS.startswith("https://"):
        return []
    return [
        Error(
            "SITE_ADDRESS does not begin with https://.",
            hint="Set SITE_ADDRESS to the address that owners open, such as https://warranty.example.com.",
            id="contractor.E002",
        )
    ]
