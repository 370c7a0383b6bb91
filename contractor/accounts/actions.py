"""Writes about staff and the company."""

from datetime import datetime

from django.db import transaction

from contractor.accounts.errors import EmailTaken, LastManager
from contractor.accounts.models import Company, Role, User
from contractor.core import audit
from contractor.core.audit import Actor


@transaction.atomic
def add_staff(*, email: str, name: str, role: str, password: str, by: Actor, at: datetime, phone: str = "") -> User:
    """Adds one of the staff, who can sign in at once.

    Raises EmailTaken when somebody already signs in with this address.
    """
    email = email.strip().lower()
    if User.objects.filter(email=email).exists():
        raise EmailTaken
    user = User(email=email, name=name.strip(), phone=phone.strip(), role=role)
    user.set_password(password)
    user.save(force_insert=True)
    audit.record(by=by, at=at, verb="staff added", subject=user, property_id=None, after=_shown(user))
    return user


@transaction.atomic
def change_staff(*, user_id: int, name: str, phone: str, role: str, is_active: bool, by: Actor, at: datetime) -> User:
    """Changes what one of the staff is called, may do, and whether they can sign in.

    Raises LastManager when nobody could run the set-up afterwards.
    """
    user = User.objects.select_for_update().get(pk=user_id)
    before = _shown(user)
    stays_manager = role == Role.MANAGER and is_active
    others = User.objects.filter(role=Role.MANAGER, is_active=True).exclude(pk=user.pk)
    if user.role == Role.MANAGER and not stays_manager and not others.exists():
        raise LastManager
    user.name, user.phone, user.role, user.is_active = name.strip(), phone.strip(), role, is_active
    user.save()
    audit.record(by=by, at=at, verb="staff changed", subject=user, property_id=None, before=before, after=_shown(user))
    return user


@transaction.atomic
def describe_company(*, by: Actor, at: datetime, **fields: str) -> Company:
    """Sets who the contractor is: what stands on every warranty, letter and page."""
    company = Company.objects.select_for_update().order_by("pk").first() or Company()
    before = audit.snapshot(company) if company.pk else None
    for name, value in fields.items():
        setattr(company, name, value)
    company.save()
    audit.record(
        by=by,
        at=at,
        verb="company described",
        subject=company,
        property_id=None,
        before=before,
        after=audit.snapshot(company),
    )
    return company


def _shown(user: User) -> dict[str, object]:
    return {"email": user.email, "name": user.name, "phone": user.phone, "role": user.role, "is_active": user.is_active}
