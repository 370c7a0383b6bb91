"""The columns that an old register may have, as the import page shows them, and an empty file to fill in."""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from contractor.office.register_rows import KnownModel


@dataclass(frozen=True, slots=True, kw_only=True)
class TemplateColumn:
    """One column: its field in ``register_columns``, its name in the template, and what stands in it.

    ``also`` are other names under which it is found. ``model_of`` is the kind of part whose model stands in it; the
    example is then one of the company's own catalogue.
    """

    field: str
    header: str
    meaning: str
    example: str = ""
    also: tuple[str, ...] = ()
    is_needed: bool = False
    model_of: str = ""


def _needed(field: str, header: str, meaning: str, example: str, *also: str) -> TemplateColumn:
    return TemplateColumn(field=field, header=header, meaning=meaning, example=example, also=also, is_needed=True)


def _welcome(field: str, header: str, meaning: str, example: str, *also: str, model_of: str = "") -> TemplateColumn:
    return TemplateColumn(field=field, header=header, meaning=meaning, example=example, also=also, model_of=model_of)


_MODEL: Final = "Maker and model as in your catalogue"
TEMPLATE: Final = (
    _needed("owner", "Customer name", "The present owner", "Iris Holloway", "Owner", "Client", "Homeowner"),
    _needed("street", "Address", "Street and number of the house", "12 Millrace Lane", "Street", "Job address"),
    _welcome("unit", "Unit", "Apartment, when there are several", "", "Apt", "Suite"),
    _needed("town", "Town", "Town", "Larkmere", "City", "Municipality"),
    _welcome("state", "State", "Without it, your company's own", "PA", "St"),
    _needed("postcode", "ZIP", "Five digits, or nine", "17099", "Zip code", "Postal code"),
    _welcome("latitude", "Latitude", "Degrees, north above zero", "40.9512", "Lat"),
    _welcome("longitude", "Longitude", "Degrees, east above zero", "-77.2204", "Long", "Lng"),
    _welcome("phone", "Phone", "The owner's telephone", "(555) 555-0142", "Tel", "Cell", "Mobile"),
    _welcome("email", "E-mail", "The owner's e-mail address", "iris@example.com", "Mail", "Email address"),
    _needed("installed_on", "Install date", "When the system went in", "5/14/2019", "Installed", "Completed"),
    _welcome("system", "System", "Its name, when a house has several", "Basement", "Area", "Location"),
    _welcome("pump_model", "Pump", _MODEL, "", "Pump model", "Sump pump", model_of="primary_pump"),
    _welcome("pump_serial", "Pump serial", "From the pump's plate", "NF347782", "Pump S/N", "Serial"),
    _welcome("standby_model", "Standby pump", _MODEL, "", "Backup", "Battery backup", model_of="standby_pump"),
    _welcome("standby_serial", "Standby serial", "From the standby pump's plate", "BL197284", "Backup S/N"),
    _welcome("battery_model", "Battery", _MODEL, "", "Batt", "Battery type", model_of="battery"),
    _welcome("battery_serial", "Battery serial", "From the battery's label", "K7R58782", "Battery S/N"),
    _welcome("battery_date", "Battery date", "When this battery went in", "10/8/2022", "Batt date"),
    _welcome("pit", "Pit (in)", "Diameter of the pit; name the unit", "18", "Basin (in)", "Sump (in)"),
    _welcome("discharge", "Discharge (in)", "Bore of the discharge line", "1.5", "Disch line", "Discharge pipe"),
    _welcome("walls", "Walls treated", "Which walls, with lengths if known", "N 28 ft; E 24 ft", "Walls"),
    _welcome("liner", "Liner (ft)", "Length of the wall liner", "52", "Liner ft", "Vapor liner"),
    _welcome("warranty", "Warranty number", "Kept in the notes", "HC-1001", "Warr #", "Cert no"),
    _welcome("last_service_on", "Last service", "Day of the last check-up", "7/6/2026", "Last svc", "Last visit"),
    _welcome("notes", "Notes", "Anything else", "Dog, friendly", "Comments", "Remarks"),
)


def template_csv() -> str:
    """The column names and nothing below them, to open in a spreadsheet program."""
    return _line([column.header for column in TEMPLATE])


def examples(known_models: Sequence[KnownModel]) -> tuple[str, ...]:
    """What a row may look like, cell by cell; models are the first of their kind in the catalogue."""
    first = {model.part_kind: str(model) for model in reversed(known_models)}
    return tuple(first.get(column.model_of, "") if column.model_of else column.example for column in TEMPLATE)


def _line(cells: Sequence[str]) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\r\n").writerow(cells)
    return out.getvalue()
