"""Pages about systems, parts, walls and the catalogue."""

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from contractor.accounts.models import Role, User
from contractor.properties.models import Property
from contractor.systems.models import CatalogueModel, Component, System
from contractor.systems.part_kinds import PART_KINDS
from tests.factories import CatalogueModelFactory, ComponentFactory, TreatedWallFactory, UserFactory


@pytest.fixture
def desk(nora: User, signed_in_as: Callable[[User], Client]) -> Client:
    return signed_in_as(nora)


@pytest.fixture
def model(db: None) -> CatalogueModel:
    return CatalogueModelFactory(
        part_kind="battery", maker="Merrowick", name="Stillmat 75", data={"chemistry": "agm", "capacity_ah": 75.0}
    )


@pytest.fixture
def battery(system: System, model: CatalogueModel) -> Component:
    return ComponentFactory(
        system=system, part_kind="battery", model=model, serial_number="MW-1", place="Shelf left of the pit"
    )


def to_house(system: System) -> str:
    return reverse("office:house", args=[system.property_id])


def test_a_system_is_registered_and_its_parts_come_next(desk: Client, house: Property) -> None:
    answer = desk.post(
        reverse("systems:install", args=[house.pk]), {"name": "Basement", "installed_on": "2026-04-02", "notes": ""}
    )
    system = house.systems.get()
    assert answer["Location"] == reverse("systems:component_add", args=[system.pk])
    assert system.installed_on == date(2026, 4, 2)


def test_a_name_that_is_taken_is_refused_beside_it(desk: Client, system: System) -> None:
    answer = desk.post(
        reverse("systems:install", args=[system.property_id]), {"name": "Basement", "installed_on": "2026-04-02"}
    )
    assert list(answer.context["form"].errors) == ["name"]


def test_the_kind_is_chosen_first_and_brings_its_models_and_the_day_of_the_system(
    desk: Client, system: System, model: CatalogueModel
) -> None:
    CatalogueModelFactory(part_kind="charger")
    CatalogueModelFactory(part_kind="battery", is_offered=False)
    address = reverse("systems:component_add", args=[system.pk])
    first = desk.get(address)
    assert first.context["form"] is None
    assert len(first.context["kinds"]) == len(PART_KINDS)
    form = desk.get(f"{address}?kind=battery").context["form"]
    assert list(form.fields["model"].queryset) == [model]
    assert form["on"].value() == date(2020, 5, 14)
    assert desk.get(f"{address}?kind=boat").context["form"] is None


def test_choosing_a_kind_exchanges_only_the_part_of_the_page_that_changes(desk: Client, system: System) -> None:
    address = f"{reverse('systems:component_add', args=[system.pk])}?kind=battery"
    fragment = desk.get(address, headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in fragment
    assert 'id="adding"' in fragment
    assert 'name="serial_number"' in fragment


def test_parts_are_added_one_after_the_other(desk: Client, system: System, model: CatalogueModel, theo: User) -> None:
    address = reverse("systems:component_add", args=[system.pk])
    answer = desk.post(
        f"{address}?kind=battery",
        {"model": model.pk, "serial_number": "MW-7", "place": "", "on": "2020-05-14", "in_by": theo.pk},
    )
    assert answer["Location"] == address
    part = system.components.get()
    assert (part.model, part.serial_number, part.in_by) == (model, "MW-7", theo)
    page = desk.get(address)
    assert page.context["parts"] == [part]
    assert {row.kind.code: row.in_place for row in page.context["kinds"]}["battery"] == 1


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"on": "2020-05-13"}, "on"),
        ({"on": ""}, "on"),
        ({"serial_number": "MW-1"}, "serial_number"),
        ({"model": "999999"}, "model"),
    ],
)
def test_a_refused_part_is_refused_beside_its_field(
    desk: Client, battery: Component, typed: dict[str, str], field: str
) -> None:
    address = reverse("systems:component_add", args=[battery.system_id])
    words = {"model": battery.model_id, "serial_number": "MW-2", "place": "", "on": "2020-05-14", **typed}
    answer = desk.post(f"{address}?kind=battery", words)
    assert list(answer.context["form"].errors) == [field]
    assert Component.objects.count() == 1


def test_only_technicians_who_still_work_here_can_have_put_it_in(desk: Client, system: System, theo: User) -> None:
    UserFactory(role=Role.TECHNICIAN, is_active=False)
    address = f"{reverse('systems:component_add', args=[system.pk])}?kind=pit"
    assert list(desk.get(address).context["form"].fields["in_by"].queryset) == [theo]


def test_a_part_is_shown_with_what_its_maker_declares(desk: Client, battery: Component) -> None:
    text = desk.get(reverse("systems:component", args=[battery.pk])).content.decode()
    for words in ("Merrowick Stillmat 75", "MW-1", "Shelf left of the pit", "Lead-acid, AGM", "75 Ah"):
        assert words in text


def test_a_part_is_replaced_with_its_reason(desk: Client, battery: Component, theo: User) -> None:
    address = reverse("systems:replace", args=[battery.pk])
    form = desk.get(address).context["form"]
    assert (form["model"].value(), form["failed"].value()) == (battery.model_id, "no")
    answer = desk.post(
        address,
        {
            "on": "2025-03-09",
            "failed": "yes",
            "because": "Held 9.1 V under load",
            "model": battery.model_id,
            "serial_number": "MW-2",
            "place": "",
            "swapped_by": theo.pk,
        },
    )
    assert answer["Location"] == to_house(battery.system)
    battery.refresh_from_db()
    new = battery.replaced_by
    assert (battery.failed, battery.out_because, battery.out_by) == (True, "Held 9.1 V under load", theo)
    assert (new.serial_number, new.place, new.in_on) == ("MW-2", "Shelf left of the pit", date(2025, 3, 9))
    text = desk.get(reverse("systems:component", args=[new.pk])).content.decode()
    assert reverse("systems:component", args=[battery.pk]) in text


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"because": ""}, "because"),
        ({"failed": ""}, "failed"),
        ({"on": "2020-05-13"}, "on"),
        ({"serial_number": "MW-1"}, "serial_number"),
    ],
)
def test_a_refused_replacement_is_refused_beside_its_field_and_the_old_part_stays(
    desk: Client, battery: Component, typed: dict[str, str], field: str
) -> None:
    words = {
        "on": "2025-03-09",
        "failed": "no",
        "because": "Weak",
        "model": battery.model_id,
        "serial_number": "MW-2",
        **typed,
    }
    answer = desk.post(reverse("systems:replace", args=[battery.pk]), words)
    assert list(answer.context["form"].errors) == [field]
    battery.refresh_from_db()
    assert battery.out_on is None


def test_what_is_out_already_is_refused_above_the_form(desk: Client, battery: Component) -> None:
    words = {"on": "2025-03-09", "failed": "no", "because": "Weak"}
    desk.post(reverse("systems:retire", args=[battery.pk]), words)
    for name in ("retire", "replace"):
        answer = desk.post(reverse(f"systems:{name}", args=[battery.pk]), words)
        assert "taken out on March 9, 2025" in answer.context["form"].non_field_errors()[0]


def test_a_part_is_taken_out_without_a_successor(desk: Client, battery: Component, theo: User) -> None:
    answer = desk.post(
        reverse("systems:retire", args=[battery.pk]),
        {"on": "2025-03-09", "failed": "no", "because": "Moved to mains only", "out_by": theo.pk},
    )
    assert answer["Location"] == to_house(battery.system)
    battery.refresh_from_db()
    assert (battery.out_on, battery.failed, battery.out_by) == (date(2025, 3, 9), False, theo)


def test_what_was_written_down_is_corrected_and_its_old_model_stays_on_offer(desk: Client, battery: Component) -> None:
    CatalogueModel.objects.update(is_offered=False)
    address = reverse("systems:correct", args=[battery.pk])
    assert list(desk.get(address).context["form"].fields["model"].queryset) == [battery.model]
    desk.post(address, {"model": battery.model_id, "serial_number": "MW-9", "place": "Wall bracket"})
    battery.refresh_from_db()
    assert (battery.serial_number, battery.place) == ("MW-9", "Wall bracket")


def test_walls_are_added_in_the_companys_unit_and_the_next_letter_is_offered(desk: Client, system: System) -> None:
    address = reverse("systems:wall_add", args=[system.pk])
    assert desk.get(address).context["form"]["letter"].value() == "A"
    answer = desk.post(
        address, {"letter": "A", "name": "North wall", "length": "32", "has_channel": "on", "has_liner": "on"}
    )
    assert answer["Location"] == address
    assert system.walls.get().length_m == pytest.approx(9.7536)
    page = desk.get(address)
    assert page.context["form"]["letter"].value() == "B"
    assert "32 ft" in page.content.decode()


def test_a_letter_that_is_taken_is_refused_beside_it(desk: Client, system: System) -> None:
    TreatedWallFactory(system=system, letter="A")
    answer = desk.post(
        reverse("systems:wall_add", args=[system.pk]),
        {"letter": "a", "name": "North wall", "length": "32", "has_liner": "on"},
    )
    assert list(answer.context["form"].errors) == ["letter"]


def test_the_catalogue_counts_parts_in_place_and_is_narrowed_by_kind(desk: Client, battery: Component) -> None:
    ComponentFactory(part_kind="battery", model=battery.model, out_on=date(2024, 1, 1))
    CatalogueModelFactory(part_kind="charger")
    address = reverse("systems:catalogue")
    assert len(desk.get(address).context["rows"]) == 2
    (row,) = desk.get(f"{address}?kind=battery").context["rows"]
    assert (row["model"], row["model"].in_houses) == (battery.model, 1)


def test_a_model_is_added_with_the_fields_of_its_kind(desk: Client, nora: User) -> None:
    address = reverse("systems:catalogue_add")
    assert "form" not in desk.get(address).context
    assert "capacity_ah" in desk.get(f"{address}?kind=battery", headers={"HX-Request": "true"}).content.decode()
    words = {"maker": "Merrowick", "name": "Stillmat 75", "chemistry": "agm", "capacity_ah": "75", "rate_h": "20 h"}
    assert desk.post(f"{address}?kind=battery", words)["Location"] == reverse("systems:catalogue")
    model = CatalogueModel.objects.get()
    assert model.data == {"chemistry": "agm", "capacity_ah": 75.0, "rate_h": 20.0}
    again = desk.post(f"{address}?kind=battery", words)
    assert list(again.context["form"].errors) == ["name"]


@pytest.mark.parametrize(
    "name",
    [
        "install",
        "component_add",
        "wall_add",
        "component",
        "replace",
        "retire",
        "correct",
        "catalogue",
        "catalogue_add",
    ],
)
def test_technicians_and_strangers_stay_outside_and_what_is_missing_is_not_found(
    name: str, battery: Component, desk: Client, theo: User, signed_in_as: Callable[[User], Client]
) -> None:
    system = battery.system
    keys = {
        "install": system.property_id,
        "component_add": system.pk,
        "wall_add": system.pk,
        "catalogue": None,
        "catalogue_add": None,
    }
    key = keys.get(name, battery.pk)
    address = reverse(f"systems:{name}", args=[key] if key else [])
    assert desk.get(address).status_code == 200
    assert signed_in_as(theo).get(address).status_code == 403
    assert Client().get(address).status_code == 302
    if key:
        assert desk.get(reverse(f"systems:{name}", args=[999_999])).status_code == 404


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("battery", "hydrogen"),
        ("primary_pump", "unplug the pump"),
        ("discharge_line", "local code"),
        ("pit", "radon"),
    ],
)
def test_the_usual_caution_stands_at_the_step_itself(desk: Client, system: System, kind: str, words: str) -> None:
    part = ComponentFactory(system=system, part_kind=kind)
    for address in (
        reverse("systems:replace", args=[part.pk]),
        reverse("systems:retire", args=[part.pk]),
        f"{reverse('systems:component_add', args=[system.pk])}?kind={kind}",
    ):
        text = desk.get(address).content.decode()
        assert "Caution." in text
        assert words in text
