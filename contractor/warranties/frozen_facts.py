"""Freezing facts: the same facts give the same bytes for ever, and the same hash."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import rfc8785

FINGERPRINT_SYMBOLS = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenFacts:
    """Facts as canonical JSON (RFC 8785, UTF-8) with their SHA-256 in lower-case hexadecimal."""

    body: bytes
    sha256: str

    @property
    def fingerprint(self) -> str:
        """The first 64 bits of the hash in groups of four, short enough to compare by eye."""
        return fingerprint(self.sha256)


def freeze(facts: Mapping[str, Any]) -> FrozenFacts:
    """Freeze JSON data: text, whole numbers, truth values, null, lists and objects.

    Amounts and days go in as text, so that no reader rounds them. Raises rfc8785.CanonicalizationError for
    anything that has no canonical form.
    """
    body = rfc8785.dumps(dict(facts))
    return FrozenFacts(body=body, sha256=hashlib.sha256(body).hexdigest())


def fingerprint(sha256: str) -> str:
    """A hash shortened for print: ``ba78 16bf 8f01 cfea``."""
    short = sha256[:FINGERPRINT_SYMBOLS]
    return " ".join(short[start : start + 4] for start in range(0, len(short), 4))
