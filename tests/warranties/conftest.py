"""The warranty that most tests are about: issued to Iris Holloway's system on May 14, 2020."""

from datetime import date, datetime

import pytest

from contractor.accounts.models import User
from contractor.core.audit import Actor
from contractor.systems.models import System
from contractor.warranties.actions import issuing
from contractor.warranties.models import TermsEdition, Warranty
from tests.warranties.factories import checkup_done, furnish, published_terms

YEARS_CARED_FOR = (2021, 2022, 2023, 2024, 2025)


@pytest.fixture
def terms(company: object) -> TermsEdition:
    return published_terms()


@pytest.fixture
def warranty(system: System, terms: TermsEdition, office: Actor, at: datetime) -> Warranty:
    """Issued on the day of installation, with parts and walls, never checked since."""
    furnish(system)
    return issuing.issue_warranty(system_id=system.pk, terms_id=terms.pk, issued_on=date(2020, 5, 14), by=office, at=at)


@pytest.fixture
def cared_for(warranty: Warranty, theo: User) -> Warranty:
    """The same warranty with a check-up on May 10 of every year: due again on May 14, 2026."""
    for year in YEARS_CARED_FOR:
        checkup_done(warranty.system, date(year, 5, 10), theo)
    return warranty
