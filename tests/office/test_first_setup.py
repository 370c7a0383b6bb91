"""The first set-up: what a fresh installation begins with."""

import json
from datetime import datetime
from pathlib import Path

import pytest
from django.conf import settings

from contractor.accounts.models import User
from contractor.office.first_setup import load_terms
from contractor.warranties.models import TermsEdition

SHIPPED = Path(settings.FIXTURES) / "terms" / "limited-2026-1.json"


@pytest.fixture
def two_editions(settings: object, tmp_path: Path) -> None:
    """The shipped terms, and the same as the next edition."""
    folder = tmp_path / "terms"
    folder.mkdir()
    data = json.loads(SHIPPED.read_text(encoding="utf-8"))
    for edition in ("limited-2026-1", "limited-2026-2"):
        (folder / f"{edition}.json").write_text(json.dumps({**data, "edition": edition}), encoding="utf-8")
    settings.FIXTURES = tmp_path  # type: ignore[attr-defined]


def test_a_fresh_installation_publishes_the_newest_terms(two_editions: None, ruth: User, at: datetime) -> None:
    assert load_terms(by=ruth, at=at).edition == "limited-2026-2"
    assert [row.edition for row in TermsEdition.objects.published()] == ["limited-2026-2"]


def test_terms_that_are_published_stay_the_ones_in_use(two_editions: None, ruth: User, at: datetime) -> None:
    first = load_terms(by=ruth, at=at)
    assert load_terms(by=ruth, at=at) == first
    assert TermsEdition.objects.count() == 1
