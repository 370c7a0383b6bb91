"""Makes the words of a message from its templates, and the e-mail from its words."""

from collections.abc import Mapping
from datetime import datetime
from email.mime.text import MIMEText
from email.utils import make_msgid
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template import TemplateDoesNotExist
from django.template.loader import get_template, render_to_string

from contractor.notices import made_above, personal_links
from contractor.notices.models import Notice
from contractor.notices.rules.channels import COMMERCIAL
from contractor.notices.rules.segments import plain

NO_OFFERS = personal_links.marker("no-offers")


def written(template: str, words: Mapping[str, Any], *, with_links: bool) -> dict[str, str]:
    """Subject, text, HTML and, where ``<template>.short.txt`` exists, the text message.

    The subject is on one line, whatever its template's lines are.
    """
    subject = " ".join(render_to_string(f"notices/{template}.subject.txt", dict(words)).split())
    known = {**words, "subject": subject, "no_offers_link": NO_OFFERS if template in COMMERCIAL else ""}
    bodies = {"text": f"notices/{template}.txt", "html": f"notices/{template}.html"}
    made = {name: str(render_to_string(body, known)) for name, body in bodies.items()}
    if not with_links:
        made = {name: personal_links.without_links(body) for name, body in made.items()}
    return {"subject": subject, **made, "short": _short(template, known)}


def has_short(template: str) -> bool:
    """Whether messages of this template may go as a text."""
    try:
        get_template(f"notices/{template}.short.txt")
    except TemplateDoesNotExist:
        return False
    return True


def _short(template: str, words: Mapping[str, Any]) -> str:
    return plain(render_to_string(f"notices/{template}.short.txt", dict(words))) if has_short(template) else ""


def email_of(notice: Notice, at: datetime) -> EmailMultiAlternatives:
    """The message with its links made and its attachment; a commercial one can be stopped by the mail program itself.

    RFC 2369 and RFC 8058: the two headers of a list that can be left by one press.
    """
    text, html, _ = personal_links.with_links(notice, at)
    headers = {"Message-ID": make_msgid(idstring=f"notice-{notice.pk}", domain="notices.invalid")}
    if notice.template in COMMERCIAL:
        link = personal_links.address_of(notice, "no-offers", at)
        headers |= {"List-Unsubscribe": f"<{link}>", "List-Unsubscribe-Post": "List-Unsubscribe=One-Click"}
    message = EmailMultiAlternatives(subject=notice.subject, body=text, to=[notice.address], headers=headers)
    message.attach_alternative(html, "text/html")
    added = made_above.attachment(notice, at)
    if added is not None:
        message.attach(_part(added))
    return message


def _part(added: made_above.Attachment) -> MIMEText:
    part = MIMEText(added.content, added.kind.partition("/")[2], "utf-8")
    for name, value in added.parameters.items():
        part.set_param(name, value)
    part.add_header("Content-Disposition", "attachment", filename=added.name)
    return part


def reference_of(notice: Notice) -> str:
    """How a text message is named to its carrier: each attempt has a name of its own."""
    return f"notice-{notice.pk}-{notice.attempts}-{settings.SITE_ADDRESS.rpartition('/')[2]}".replace(":", "-")
