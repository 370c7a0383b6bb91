"""A published edition of terms stays as it is even for somebody with SQL in hand: the database itself refuses.

Set after every migration, because a database that rebuilds a table for one forgets what was tied to it.
"""

from typing import Any

from django.db import connections

TABLE = "warranties_termsedition"
TRIGGER = "published_terms_stay"
SENTENCE = "A published edition of terms stays as it is; publish a new one."

_SQLITE = (
    f"DROP TRIGGER IF EXISTS {TRIGGER}",
    f"CREATE TRIGGER {TRIGGER} BEFORE UPDATE ON {TABLE} WHEN OLD.published_at IS NOT NULL "
    f"BEGIN SELECT RAISE(ABORT, '{SENTENCE}'); END",
)
_POSTGRESQL = (
    f"CREATE OR REPLACE FUNCTION {TRIGGER}() RETURNS trigger AS $$ BEGIN "
    f"RAISE EXCEPTION '{SENTENCE}' USING ERRCODE = 'integrity_constraint_violation'; END $$ LANGUAGE plpgsql",
    f"DROP TRIGGER IF EXISTS {TRIGGER} ON {TABLE}",
    f"CREATE TRIGGER {TRIGGER} BEFORE UPDATE ON {TABLE} FOR EACH ROW WHEN (OLD.published_at IS NOT NULL) "
    f"EXECUTE FUNCTION {TRIGGER}()",
)


def freeze_published_terms(using: str, **_signal: Any) -> None:
    """Puts the refusal into the database; does nothing while the table is not there. Safe to run twice."""
    connection = connections[using]
    if TABLE not in connection.introspection.table_names():
        return
    statements = _POSTGRESQL if connection.vendor == "postgresql" else _SQLITE
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
