"""Terms of our own to start an edition from. They keep the rules of their jurisdiction; a lawyer should read them."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings

from contractor.warranties.rules.plain_data import terms_from_data
from contractor.warranties.rules.terms import Terms


@dataclass(frozen=True, slots=True, kw_only=True)
class Template:
    """A template: its code is the name of its file."""

    code: str
    data: dict[str, Any]

    @property
    def terms(self) -> Terms:
        """The terms that it is."""
        return terms_from_data(self.data)


def templates() -> list[Template]:
    """Every template that ships with the project."""
    files = sorted((Path(settings.FIXTURES) / "terms" / "templates").glob("*.json"))
    return [Template(code=path.stem, data=json.loads(path.read_text(encoding="utf-8"))) for path in files]
