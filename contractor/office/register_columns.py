"""Knows the columns of an old register by the many names that contractors give them."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from contractor.properties.addresses import folded

# Field, then the names under which it goes, without spaces, points and capitals (common practice, no source).
SYNONYMS: Final[dict[str, str]] = {
    "owner": "owner owners ownername customer customername custname cust client clientname homeowner name fullname",
    "owner_first": "first firstname ownerfirst ownerfirstname",
    "owner_last": "last lastname surname ownerlast ownerlastname",
    "phone": "phone phoneno phonenumber phonenr telephone tel telno mobile cell cellphone homephone phone1 ph",
    "email": "email emailaddress emailaddr mail",
    "street": "address addr address1 addr1 street streetaddress siteaddress jobaddress propertyaddress houseaddress",
    "unit": "unit apt apartment suite unitno aptno address2 addr2",
    "town": "town city township municipality towncity citytown borough",
    "state": "state st province",
    "postcode": "zip zipcode postcode postalcode zippostcode",
    "latitude": "latitude lat ycoordinate",
    "longitude": "longitude long lon lng xcoordinate",
    "installed_on": "installdt installdate installed installedon dateinstalled dateofinstall installationdate instdate "
    "install instdt completed completiondate",
    "system": "system systemname sys area location systemtype",
    "pump_model": "pump pumpmodel primarypump mainpump sumppump primary pumptype",
    "pump_serial": "pumpsn pumpserial pumpserialno pumpserialnumber pumpser primarysn serial sn serialno serialnumber",
    "standby_model": "backup backuppump standby standbypump backupmodel standbymodel batterybackup bbu",
    "standby_serial": "backupsn backupserial backupserialno standbysn standbyserial standbyserialno",
    "battery_model": "batt battery battmodel batterymodel batterytype",
    "battery_serial": "battsn batteryserial batterysn battserial",
    "battery_date": "battdate batterydate battdt batteryinstalled batteryin dateofbattery batteryreplaced",
    "pit": "pit pitsize basin sump pitdiameter pitdia basinsize",
    "discharge": "dischline discharge dischargeline disch dischargepipe dischargesize",
    "walls": "wallstreated walls treatedwalls wall wallsdone",
    "liner": "liner linerlength wallliner vaporliner linerfootage",
    "warranty": "warr warranty warrantyno warrantynumber warrno warrantynr certno",
    "last_service_on": "lastsvc lastservice lastserviced lastservicedate lastcheckup lastvisit servicedon lastsvcdate",
    "notes": "notes note comments comment remarks memo",
}
# What this software adds to the rows it hands back; ignored when the mended file comes in again.
LINE_COLUMN: Final = "line"
MEND_COLUMN: Final = "what to mend"

# The essential ones, and the name under which a refusal asks for each.
ESSENTIAL: Final[dict[str, str]] = {
    "owner": "the owner's name (such as “Customer name”)",
    "street": "the street and number (such as “Address”)",
    "town": "the town (such as “Town”)",
    "postcode": "the ZIP code (such as “ZIP”)",
    "installed_on": "the day of installation (such as “Install date”)",
}
MEASURED: Final[dict[str, str]] = {"pit": "in", "discharge": "in", "liner": "ft"}
_FIELD_OF: Final = {name: field for field, names in SYNONYMS.items() for name in names.split()}
_UNIT_OF: Final = {
    **dict.fromkeys(["in", "inch", "inches"], "in"),
    **dict.fromkeys(["ft", "feet", "foot"], "ft"),
    **{code: code for code in ("mm", "cm", "m")},
}


@dataclass(frozen=True, slots=True)
class Column:
    """One column that is understood: its place, its header as written, and the unit that the header names."""

    place: int
    header: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Columns:
    """The columns of one file: those understood by field, and the places of those that are not."""

    header: tuple[str, ...]
    by_field: dict[str, Column]
    unknown: tuple[int, ...]

    def cell(self, cells: Sequence[str], field: str) -> str:
        """A field's cell as it stands in the row; nothing when the file has no such column."""
        column = self.by_field.get(field)
        return cells[column.place] if column and column.place < len(cells) else ""

    def header_of(self, field: str) -> str:
        """The header under which the file keeps a field; its plain name when it has no such column."""
        column = self.by_field.get(field)
        return column.header if column else field.replace("_on", "").replace("_", " ")

    def missing(self) -> tuple[str, ...]:
        """Essential columns that the file lacks, in words."""
        has = {*self.by_field, *(["owner"] if "owner_last" in self.by_field else [])}
        return tuple(words for field, words in ESSENTIAL.items() if field not in has)


def columns_of(header: Sequence[str]) -> Columns:
    """Tells which column holds what. The first column of a name counts; a second one is kept as not understood."""
    by_field: dict[str, Column] = {}
    unknown: list[int] = []
    ours = {LINE_COLUMN, MEND_COLUMN} if MEND_COLUMN in [plain(name) for name in header] else set()
    for place, name in enumerate(header):
        field, unit = _field_and_unit(name)
        if plain(name) in ours:
            continue
        if field and field not in by_field:
            by_field[field] = Column(place, " ".join(name.split()), unit)
        elif name.strip():
            unknown.append(place)
    return Columns(tuple(header), by_field, tuple(unknown))


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """A header for comparing: folded, on one line."""
    return " ".join(folded(text).split())


def _field_and_unit(name: str) -> tuple[str, str]:
    """The field that a header names, and the unit behind it: "Pit (in)" and "Liner ft"."""
    words = re.findall(r"[a-z0-9]+", plain(name).replace("'", "").replace("#", ""))
    field = _FIELD_OF.get("".join(words), "")
    if field or len(words) < 2 or words[-1] not in _UNIT_OF:
        return field, ""
    field = _FIELD_OF.get("".join(words[:-1]), "")
    return (field, _UNIT_OF[words[-1]]) if field in MEASURED else ("", "")
