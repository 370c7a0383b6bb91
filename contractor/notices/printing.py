"""Makes PDFs from templates. Nothing is fetched from anywhere but our own static and media folders."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.exceptions import SuspiciousFileOperation
from django.template.loader import render_to_string
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

from contractor.accounts.models import Company
from contractor.accounts.queries import the_company
from contractor.core.templatetags.country_style import written_for
from contractor.notices.tagging import hide_repeating_pictures

# Not real folders: two roots under which a template names its files. The file scheme is used because relative
# addresses inside stylesheets (fonts, images) are resolved against it.
STATIC_ROOT = "file:///static/"
MEDIA_ROOT = "file:///media/"
# Every paper is tagged, so that it can be read aloud: PDF/UA-1, ISO 14289-1.
TAGGED = "pdf/ua-1"


class OwnFilesOnly(URLFetcher):  # type: ignore[misc]
    """Serves ``file:///static/css/print.css`` and ``file:///media/photos/...``; refuses every other address."""

    def fetch(self, url: str, headers: Any = None) -> Any:
        if url.startswith("data:"):
            return super().fetch(url, headers)
        path = self._path(unquote(url.split("?", 1)[0].split("#", 1)[0]))
        return URLFetcherResponse(url, body=path.read_bytes(), headers={"Content-Type": _content_type(path)})

    def _path(self, url: str) -> Path:
        if url.startswith(STATIC_ROOT):
            try:
                found = finders.find(url.removeprefix(STATIC_ROOT))
            except SuspiciousFileOperation:
                found = None
            if found and Path(str(found)).is_file():
                return Path(str(found))
        if url.startswith(MEDIA_ROOT):
            root = Path(settings.MEDIA_ROOT).resolve()
            path = (root / url.removeprefix(MEDIA_ROOT)).resolve()
            if path.is_relative_to(root) and path.is_file():
                return path
        raise ValueError(f"A document may not fetch {url}.")


def _content_type(path: Path) -> str:
    return {
        ".css": "text/css",
        ".svg": "image/svg+xml",
        ".jpg": "image/jpeg",
        ".png": "image/png",
        ".woff2": "font/woff2",
        ".ttf": "font/ttf",
    }.get(path.suffix.lower(), "application/octet-stream")


def render_pdf(template: str, context: Mapping[str, Any], **options: Any) -> bytes:
    """The template as PDF bytes, tagged; ``options`` go to WeasyPrint (``pdf_variant``, ``pdf_identifier``, ...).

    Every document wears ``css/print.css``, knows ``company`` and is written in the style of its country. Inside the
    template, images are named ``file:///static/…`` and ``file:///media/…``.
    """
    document, look = _dressed(template, context)
    return bytes(document.write_pdf(**look, **{**_tagged(), **options}))


def render_together(template: str, contexts: Sequence[Mapping[str, Any]], *, title: str) -> bytes:
    """Several documents as one PDF for printing on both sides: each counts its own pages and begins on a right-hand
    page, so that an empty one follows a document that ends on such a page."""
    documents = [_laid_out(template, context) for context in contexts]
    empty = _laid_out("notices/empty_page.html", {}).pages[0]
    pages: list[Any] = []
    for document in documents:
        if len(pages) % 2:
            pages.append(empty)
        pages.extend(document.pages)
    together = documents[0].copy(pages)
    together.metadata.title = title
    return bytes(together.write_pdf(**_tagged()))


def _tagged() -> dict[str, Any]:
    return {"pdf_variant": TAGGED, "finisher": hide_repeating_pictures}


def _dressed(template: str, context: Mapping[str, Any]) -> tuple[Any, dict[str, Any]]:
    """The document, and its style sheet and fonts as WeasyPrint takes them."""
    known = {"company": the_company(), **context}
    with written_for(_country_of(known["company"])):
        html = render_to_string(template, known)
    fetcher = OwnFilesOnly()
    document = HTML(string=html, base_url=STATIC_ROOT, url_fetcher=fetcher)
    # One font configuration for both: the sheet puts our faces into it, and the document looks for them there.
    fonts = FontConfiguration()
    look = CSS(url=f"{STATIC_ROOT}css/print.css", url_fetcher=fetcher, font_config=fonts)
    return document, {"stylesheets": [look], "font_config": fonts}


def _laid_out(template: str, context: Mapping[str, Any]) -> Any:
    document, look = _dressed(template, context)
    return document.render(**look)


def _country_of(company: Company | Mapping[str, str]) -> str:
    """The company as it is, or as a certificate froze it; those from before its country was kept are from home."""
    return company.country if isinstance(company, Company) else company.get("country", "")
