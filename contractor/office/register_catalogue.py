"""Finds the catalogue model that a name in an old register means, and never picks one of two."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from contractor.office.register_cells import given
from contractor.office.register_rows import KnownModel, Read, caution, error, listed
from contractor.properties.addresses import folded
from contractor.systems.part_kinds import part_kind as kind_of

# Words that say what a thing is, not which model of it.
_NOISE: Final = """
the pump pumps sump submersible primary main standby backup back up battery batt bat model mod no new old type series
volt v ah amp hp
"""
NOISE: Final = frozenset(_NOISE.split())


@dataclass(frozen=True, slots=True)
class _Fit:
    """How well a name fits a model: the same letter for letter, or shortened, and whether more than the maker fits."""

    is_exact: bool
    names_model: bool


def read_model(text: str, *, part_kind: str, known_models: Sequence[KnownModel]) -> Read[KnownModel]:
    """The catalogue model of this kind that a cell names, whatever its case, spacing and abbreviation.

    A shortened name that fits one model only is taken with a caution; one that fits several is an error that lists
    them; one that fits none is a caution, and the part stays without a model.
    """
    cell = given(text)
    word = kind_of(part_kind).word
    fits = [(model, _fit(cell, model)) for model in known_models if model.part_kind == part_kind]
    exact = [model for model, fit in fits if fit and fit.is_exact]
    short = [model for model, fit in fits if fit and fit.names_model]
    found = exact or short
    if len(found) > 1:
        sentence = f"“{cell}” can be {listed(found)}. Write the whole name of the {word}."
        return Read(None, (error("model_ambiguous", sentence),))
    if exact:
        return Read(exact[0])
    if short:
        return Read(short[0], (caution("model_abbreviated", f"“{cell}” was read as {short[0]}. Compare it once."),))
    elsewhere = [m for m in known_models if m.part_kind != part_kind and (fit := _fit(cell, m)) and fit.is_exact]
    if elsewhere:
        other = kind_of(elsewhere[0].part_kind).word
        sentence = (
            f"{elsewhere[0]} is a {other}. Name the {word} here; the {other} belongs in its own column or the notes."
        )
        return Read(None, (error("model_wrong_kind", sentence),))
    why = "names a maker but no model" if any(fit for _, fit in fits) else f"is no {word} of the catalogue"
    sentence = (
        f"“{cell}” {why}; the {word} was taken without a model. Write the whole name, or add it to the catalogue."
    )
    return Read(None, (caution("model_unknown", sentence),))


def _fit(written: str, model: KnownModel) -> _Fit | None:
    wanted = "".join(_words(written))
    whole, name = "".join(_words(f"{model.maker} {model.name}")), "".join(_words(model.name))
    if wanted in {whole, name}:
        return _Fit(is_exact=True, names_model=True)
    words = [word for word in _words(written) if word not in NOISE]
    if not words or not any(word.isalpha() for word in words):
        return None
    behind_maker = _after_maker(words, model.maker)
    if behind_maker is None:
        return _Fit(False, True) if _shortens(words, _words(model.name)) else None
    rest = words[behind_maker:]
    if not rest:
        return _Fit(is_exact=False, names_model=False)
    return _Fit(False, True) if _shortens(rest, _words(model.name)) else None


@lru_cache(maxsize=4096)
def _words(text: str) -> tuple[str, ...]:
    """Words and numbers apart, folded: "Castwell33" is "castwell", "33"; single letters in a row are one word."""
    plain = folded(text.replace("½", " 1/2").replace("¼", " 1/4").replace("¾", " 3/4"))
    plain = re.sub(r"\b([a-z])\s*(?:&|\.|/)\s*([a-z])\b\.?", r"\1\2", plain)
    return tuple(word for word in re.findall(r"\d+(?:\.\d+)?|[a-z]+", plain.replace("'", "")) if word != "and")


def _after_maker(words: Sequence[str], maker: str) -> int | None:
    """How many of the first words name the maker: by its initials, or its words whole or shortened; None if none."""
    parts = _words(maker)
    initials = "".join(part[0] for part in parts)
    if len(parts) > 1 and words[0] == initials:
        return 1
    count = 0
    for word in words:
        place = next((i for i, part in enumerate(parts) if word == part[0] or _short_for(word, part)), None)
        if place is None:
            break
        parts = parts[place + 1 :]
        count += 1
    return count or None


def _shortens(words: Sequence[str], name: Sequence[str]) -> bool:
    """Whether all words, in order, stand for words of the name; a number only for the same number."""
    place = 0
    for word in words:
        while place < len(name) and not (word == name[place] or _short_for(word, name[place])):
            place += 1
        if place == len(name):
            return False
        place += 1
    return True


def _short_for(word: str, whole: str) -> bool:
    """Whether a word shortens another: the same first letter and the rest in order, as in "Cstwl" or "Castw"."""
    if len(word) < 2 or not word.isalpha() or word[0] != whole[0]:
        return word == whole
    letters = iter(whole)
    return all(letter in letters for letter in word)
