"""Staff and the company: who can sign in, who can do what, who stands behind the warranties."""

from collections.abc import Callable
from datetime import datetime

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts import actions
from contractor.accounts.errors import EmailTaken, LastManager
from contractor.accounts.models import Company, Role, User
from contractor.accounts.queries import the_company
from contractor.core.audit import Actor
from contractor.core.models import AuditEntry

TYPED = {
    "name": "Lena Ortiz",
    "email": "Lena@Example.com",
    "phone": "(555) 555-0110",
    "role": "technician",
    "password": "quarry-lane-fourteen",
}


@pytest.fixture
def manager(ruth: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(ruth)


@pytest.mark.django_db
def test_one_of_the_staff_is_added_and_can_sign_in(office: Actor, at: datetime) -> None:
    user = actions.add_staff(**TYPED, by=office, at=at)
    assert (user.email, user.role, user.is_active) == ("lena@example.com", Role.TECHNICIAN, True)
    assert user.check_password(TYPED["password"])
    assert list(User.objects.technicians()) == [user]


@pytest.mark.django_db
def test_neither_name_nor_password_stands_in_the_hashed_half_of_the_trail(office: Actor, at: datetime) -> None:
    user = actions.add_staff(**TYPED, by=office, at=at)
    entry = AuditEntry.objects.get(subject=f"user:{user.pk}")
    assert entry.body["after"] == {"role": "technician", "is_active": True}
    assert entry.personal["after"]["name"] == "Lena Ortiz"
    assert "password" not in str((entry.body, entry.personal))
    assert TYPED["password"] not in str((entry.body, entry.personal))


def test_an_address_signs_in_one_person_however_it_is_written(nora: User, office: Actor, at: datetime) -> None:
    with pytest.raises(EmailTaken):
        actions.add_staff(**{**TYPED, "email": " NORA@example.com"}, by=office, at=at)


@pytest.mark.parametrize(("role", "is_active"), [(Role.OFFICE, True), (Role.TECHNICIAN, True), (Role.MANAGER, False)])
def test_the_last_manager_stays_one(ruth: User, office: Actor, at: datetime, role: str, is_active: bool) -> None:
    words = {"user_id": ruth.pk, "name": "Ruth", "phone": "", "role": role, "is_active": is_active}
    with pytest.raises(LastManager):
        actions.change_staff(**words, by=office, at=at)
    ruth.refresh_from_db()
    assert (ruth.role, ruth.is_active) == (Role.MANAGER, True)
    second = actions.add_staff(**{**TYPED, "role": "manager"}, by=office, at=at)
    actions.change_staff(**words, by=office, at=at)
    ruth.refresh_from_db()
    assert (ruth.role, ruth.is_active) == (role, is_active)
    with pytest.raises(LastManager):
        actions.change_staff(**{**words, "user_id": second.pk}, by=office, at=at)


def test_a_manager_who_left_does_not_count(ruth: User, office: Actor, at: datetime) -> None:
    gone = actions.add_staff(**{**TYPED, "role": "manager"}, by=office, at=at)
    words = {"phone": "", "by": office, "at": at}
    actions.change_staff(user_id=gone.pk, name="Lena", role="manager", is_active=False, **words)
    with pytest.raises(LastManager):
        actions.change_staff(user_id=ruth.pk, name="Ruth", role="office", is_active=True, **words)


@pytest.mark.django_db
def test_before_set_up_pages_have_a_nameless_company_and_then_one_row(office: Actor, at: datetime) -> None:
    Company.objects.all().delete()
    assert the_company().pk is None
    for name in ("Harrow Creek", "Harrow Creek Dry Basements"):
        actions.describe_company(by=office, at=at, name=name)
    assert Company.objects.get().name == the_company().name == "Harrow Creek Dry Basements"


def test_the_manager_adds_and_changes_staff_through_pages(manager: Client) -> None:
    assert manager.post(reverse("accounts:add_staff"), TYPED)["Location"] == reverse("accounts:staff")
    lena = User.objects.get(email="lena@example.com")
    assert "Lena Ortiz" in manager.get(reverse("accounts:staff")).content.decode()
    address = reverse("accounts:change_staff", args=[lena.pk])
    assert manager.get(address).context["form"]["name"].value() == "Lena Ortiz"
    manager.post(address, {"name": "Lena Ortiz", "phone": "", "role": "office"})
    lena.refresh_from_db()
    assert (lena.role, lena.is_active) == (Role.OFFICE, False)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("email", "ruth@example.com"),
        ("email", "nonsense"),
        ("password", "short"),
        ("password", "password1234"),
        ("role", "owner"),
        ("name", ""),
    ],
)
def test_what_is_wrong_is_said_beside_its_field(manager: Client, field: str, value: str) -> None:
    answer = manager.post(reverse("accounts:add_staff"), {**TYPED, field: value})
    assert list(answer.context["form"].errors) == [field]
    assert User.objects.filter(name="Lena Ortiz").count() == 0


def test_the_last_manager_is_told_beside_the_role(manager: Client, ruth: User) -> None:
    address = reverse("accounts:change_staff", args=[ruth.pk])
    answer = manager.post(address, {"name": "Ruth Adair", "phone": "", "role": "office", "is_active": "on"})
    assert list(answer.context["form"].errors) == ["role"]


def test_the_company_is_described(manager: Client, company: Company) -> None:
    form = manager.get(reverse("accounts:company")).context["form"]
    typed = {name: "" if (value := form[name].value()) is None else value for name in form.fields}
    assert manager.post(reverse("accounts:company"), {**typed, "units": "metric"})["Location"] == reverse(
        "office:setup"
    )
    company.refresh_from_db()
    assert company.units == "metric"
    entry = AuditEntry.objects.get(subject=f"company:{company.pk}")
    assert entry.body == {"before": {"units": "us"}, "after": {"units": "metric"}}


@pytest.mark.parametrize("name", ["staff", "add_staff", "change_staff", "company"])
def test_the_set_up_of_people_and_company_is_the_managers(
    name: str, manager: Client, nora: User, theo: User, signed_in_as: Callable[[User], Client]
) -> None:
    address = reverse(f"accounts:{name}", args=[nora.pk] if name == "change_staff" else [])
    assert manager.get(address).status_code == 200
    assert [signed_in_as(user).get(address).status_code for user in (nora, theo)] == [403, 403]
    assert Client().get(address).status_code == 302


def test_somebody_who_does_not_exist_is_not_found(manager: Client) -> None:
    assert manager.get(reverse("accounts:change_staff", args=[999_999])).status_code == 404
