"""Printing: nothing is fetched from anywhere but our own two folders, and the document wears our own faces."""

import base64
import io
import logging
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from PIL import Image
from pypdf import PdfReader

from contractor.notices import printing
from contractor.notices.printing import OwnFilesOnly, render_pdf

PAGE = '{% extends "base_print.html" %}{% block title %}A letter{% endblock %}{% block content %}'


@pytest.fixture
def template(settings: Any, tmp_path: Path) -> Any:
    """Writes a template for one test and returns its name."""
    folder = tmp_path / "templates"
    folder.mkdir()
    own = settings.TEMPLATES[0]
    settings.TEMPLATES = [{**own, "DIRS": [*own["DIRS"], folder]}]

    def write(content: str) -> str:
        (folder / "printed.html").write_text(PAGE + content + "{% endblock %}", encoding="utf-8")
        return "printed.html"

    return write


def png(colour: str) -> bytes:
    """A small image of one colour."""
    kept = io.BytesIO()
    Image.new("RGB", (4, 4), colour).save(kept, "PNG")
    return kept.getvalue()


def stored(name: str, content: bytes) -> Path:
    path = Path(settings.MEDIA_ROOT) / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return path


FOREIGN = (
    "file:///etc/passwd",
    "file:///etc/hostname",
    "file://localhost/etc/passwd",
    "http://example.com/x.png",
    "https://example.com/x.css",
    "ftp://example.com/x.png",
    "//example.com/x.png",
    "/etc/passwd",
    "css/print.css",
    "",
    "file:///static/",
    "file:///static",
    "file:///static/css/nothing.css",
    "file:///static/../manage.py",
    "file:///static/../../../../../../etc/passwd",
    "file:///static/%2e%2e/manage.py",
    "file:///static//etc/passwd",
    "file:///media/",
    "file:///media/nothing.png",
    "file:///media/../secret.txt",
    "file:///media/%2e%2e/secret.txt",
    "file:///media/photos/../../secret.txt",
    "file:///media//etc/passwd",
    "file:///media/link.txt",
    "FILE:///etc/passwd",
)


@pytest.mark.parametrize("address", FOREIGN)
def test_every_address_that_is_not_ours_is_refused(address: str) -> None:
    secret = Path(settings.MEDIA_ROOT).parent / "secret.txt"
    secret.write_text("secret")
    photo = stored("photos/a.png", png("red"))
    (photo.parent.parent / "link.txt").symlink_to(secret)
    with pytest.raises(ValueError, match="may not fetch"):
        OwnFilesOnly().fetch(address)


def test_our_style_sheets_faces_and_photos_are_read() -> None:
    stored("photos/a b.png", png("red"))
    fetch = OwnFilesOnly().fetch
    sheet = fetch("file:///static/css/print.css")
    assert b"@page" in sheet.read()
    assert sheet.headers["Content-Type"] == "text/css"
    photo = fetch("file:///media/photos/a%20b.png?v=1#top")
    assert (photo.read(), photo.headers["Content-Type"]) == (png("red"), "image/png")


def test_an_image_in_the_page_itself_is_read_without_opening_anything() -> None:
    encoded = base64.b64encode(png("blue")).decode()
    assert OwnFilesOnly().fetch(f"data:image/png;base64,{encoded}").read() == png("blue")


def images(pdf: bytes) -> list[tuple[int, int, int]]:
    """The colour of each image in a PDF."""
    found = []
    for page in PdfReader(io.BytesIO(pdf)).pages:
        for image in page.images:
            assert image.image is not None
            found.append(image.image.convert("RGB").getpixel((0, 0)))
    return found  # type: ignore[return-value]


def test_a_document_shows_photos_and_images_in_the_page_and_leaves_foreign_ones_out(
    company: object, template: Any, caplog: pytest.LogCaptureFixture
) -> None:
    stored("photos/a.png", png("red"))
    encoded = base64.b64encode(png("blue")).decode()
    outside = Path(settings.MEDIA_ROOT).parent / "outside.png"
    outside.write_bytes(png("lime"))
    name = template(
        '<img src="file:///media/photos/a.png">'
        f'<img src="data:image/png;base64,{encoded}">'
        f'<img src="file://{outside}"><img src="file:///media/../outside.png"><img src="http://example.com/x.png">'
        f'<link rel="stylesheet" href="file://{outside}"><a rel="attachment" href="file://{outside}">x</a>'
    )
    with caplog.at_level(logging.ERROR, logger="weasyprint"):
        pdf = render_pdf(name, {})
    assert sorted(images(pdf)) == [(0, 0, 255), (255, 0, 0)]
    assert caplog.text.count("may not fetch") >= 4
    assert not PdfReader(io.BytesIO(pdf)).attachments


def fonts(pdf: bytes) -> dict[str, bool]:
    """The faces of a PDF by name, and whether the file holds them."""
    found: dict[str, bool] = {}
    for page in PdfReader(io.BytesIO(pdf)).pages:
        for reference in page["/Resources"]["/Font"].values():  # type: ignore[index]
            font = reference.get_object()
            (descendant,) = font["/DescendantFonts"]
            descriptor = descendant.get_object()["/FontDescriptor"]
            name = str(font["/BaseFont"]).partition("+")[2] or str(font["/BaseFont"])
            found[name] = any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3"))
    return found


def test_a_document_holds_our_two_families_and_no_other(company: object, template: Any) -> None:
    pdf = render_pdf(template("<h1>Warranty</h1><p>Plain, <strong>strong</strong> and <em>slanted</em>.</p>"), {})
    found = fonts(pdf)
    assert found
    assert all(found.values())
    families = {name.split("-")[0].rstrip(",") for name in found}
    assert any(name.startswith("Atkinson") for name in families), found
    assert any(name.startswith("Source") for name in families), found
    assert all(name.startswith(("Atkinson", "Source")) for name in families), found


def test_a_document_names_the_company_and_takes_the_writers_options(company: object, template: Any) -> None:
    pdf = render_pdf(template("<p>{{ word }} &amp; more</p>"), {"word": "<b>Words</b>"}, pdf_variant="pdf/ua-1")
    reader = PdfReader(io.BytesIO(pdf))
    text = reader.pages[0].extract_text()
    assert "Harrow Creek Dry Basements" in text
    assert "<b>Words</b> & more" in text
    assert reader.metadata is not None
    assert reader.metadata.title == "A letter"
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]  # tagged, as PDF/UA (ISO 14289-1) asks


def test_the_fetcher_is_the_one_that_documents_use(
    company: object, template: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    class Listening(OwnFilesOnly):
        def fetch(self, url: str, headers: Any = None) -> Any:
            asked.append(url)
            return super().fetch(url, headers)

    monkeypatch.setattr(printing, "OwnFilesOnly", Listening)
    render_pdf(template("<p>Words</p>"), {})
    assert "file:///static/css/print.css" in asked
    assert all(url.startswith(("file:///static/", "data:")) for url in asked)
