"""What houses and accounts rely on stays as it is even for somebody with SQL in hand: the database itself refuses.

A published edition of terms, a booked cost and goodwill that was given are never changed. Set after every migration,
because a database that rebuilds a table for one forgets what was tied to it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db import connections


@dataclass(frozen=True, slots=True, kw_only=True)
class Frozen:
    """A table whose rows stay as they are, or those that ``when`` holds for, and what the database says about it."""

    table: str
    trigger: str
    sentence: str
    when: str = ""


FROZEN = (
    Frozen(
        table="warranties_termsedition",
        trigger="published_terms_stay",
        sentence="A published edition of terms stays as it is; publish a new one.",
        when="OLD.published_at IS NOT NULL",
    ),
    Frozen(
        table="warranties_claimcost",
        trigger="booked_costs_stay",
        sentence="A booked cost stays as it is; book a counter-entry.",
    ),
    Frozen(
        table="warranties_goodwill",
        trigger="goodwill_stays",
        sentence="Goodwill that was given stays as it is; take it back with an entry of its own.",
    ),
)


def freeze_rows(using: str, **_signal: Any) -> None:
    """Puts the refusals into the database; leaves a table out while it is not there. Safe to run twice."""
    connection = connections[using]
    there = set(connection.introspection.table_names())
    statements = _postgresql if connection.vendor == "postgresql" else _sqlite
    with connection.cursor() as cursor:
        for frozen in FROZEN:
            if frozen.table in there:
                for statement in statements(frozen):
                    cursor.execute(statement)


def _sqlite(frozen: Frozen) -> Iterator[str]:
    when = f"WHEN {frozen.when} " if frozen.when else ""
    yield f"DROP TRIGGER IF EXISTS {frozen.trigger}"
    yield (
        f"CREATE TRIGGER {frozen.trigger} BEFORE UPDATE ON {frozen.table} {when}"
        f"BEGIN SELECT RAISE(ABORT, '{frozen.sentence}'); END"
    )


def _postgresql(frozen: Frozen) -> Iterator[str]:
    when = f"WHEN ({frozen.when}) " if frozen.when else ""
    yield (
        f"CREATE OR REPLACE FUNCTION {frozen.trigger}() RETURNS trigger AS $$ BEGIN "
        f"RAISE EXCEPTION '{frozen.sentence}' USING ERRCODE = 'integrity_constraint_violation'; END $$ LANGUAGE plpgsql"
    )
    yield f"DROP TRIGGER IF EXISTS {frozen.trigger} ON {frozen.table}"
    yield (
        f"CREATE TRIGGER {frozen.trigger} BEFORE UPDATE ON {frozen.table} FOR EACH ROW {when}"
        f"EXECUTE FUNCTION {frozen.trigger}()"
    )
