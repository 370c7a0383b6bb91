"""How hard a text is to read, so that terms stay in plain language."""

import re
import textwrap
from collections.abc import Iterable

PRINTED_LINE_SYMBOLS = 90

_WORD = re.compile(r"[A-Za-z0-9]+(?:['’.,-][A-Za-z0-9]+)*")
_SENTENCE_END = re.compile(r"[.!?]+(?=\s|$)")


def reading_grade(texts: Iterable[str]) -> float:
    """The US school grade that can read these texts: the automated readability index.

    4.71 characters per word + 0.5 words per sentence - 21.43. Source: Senter and Smith, AMRL-TR-66-220, 1967
    (formula from memory). It counts letters, not syllables, so every computer agrees. 0.0 for no words.
    """
    characters = words = sentences = 0
    for text in texts:
        for sentence in _SENTENCE_END.split(text):
            found = _WORD.findall(sentence)
            if found:
                sentences += 1
                words += len(found)
                characters += sum(symbol.isalnum() for word in found for symbol in word)
    if not words:
        return 0.0
    return 4.71 * characters / words + 0.5 * words / sentences - 21.43


def has_capitals_block(text: str) -> bool:
    """Whether more than two printed lines in a row are all in capitals, which nobody reads."""
    run = 0
    for paragraph in text.splitlines():
        for line in textwrap.wrap(paragraph, PRINTED_LINE_SYMBOLS):
            run = run + 1 if line.upper() == line and line.lower() != line else 0
            if run > 2:
                return True
    return False
