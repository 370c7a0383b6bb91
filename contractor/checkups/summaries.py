"""What a finished check-up comes to, in one or two sentences for the owner."""

from collections import Counter
from collections.abc import Sequence


def summary(*, found: Sequence[tuple[str, bool]], swapped: Sequence[str]) -> str:
    """``found`` holds the severity of each finding and whether it was put right; ``swapped`` the words of new parts."""
    still = Counter(severity for severity, done in found if not done)
    put_right = sum(done for _, done in found)
    sentences = [_state(still, put_right)]
    if swapped:
        many = Counter(swapped)
        words = [f"the {word}" if count == 1 else f"{count} × {word}" for word, count in many.items()]
        verb = "was" if len(swapped) == 1 else "were"
        sentences.append(f"{_start(_listed(words))} {verb} replaced.")
    return " ".join(sentences)


def _state(still: Counter[str], put_right: int) -> str:
    urgent, bad, watch = still["urgent"], still["bad"], still["watch"]
    fixed = f"; {_things(put_right)} {_were(put_right)} put right on the spot" if put_right else ""
    if urgent:
        rest = f", and {_things(bad + watch)} more {_were(bad + watch, now=True)} open" if bad + watch else ""
        return f"{_start(_things(urgent))} {_needs(urgent)} doing at once{rest}{fixed}."
    if bad:
        rest = f", and {_things(watch)} {_were(watch, now=True)} worth watching" if watch else ""
        return f"{_start(_things(bad))} {_needs(bad)} doing soon{rest}{fixed}."
    if watch:
        return f"Everything works; {_things(watch)} {_were(watch, now=True)} worth watching{fixed}."
    if put_right:
        return f"Everything is in order now: {_things(put_right)} {_were(put_right)} put right on the spot."
    return "Everything that was checked is in order."


def _things(count: int) -> str:
    return "one thing" if count == 1 else f"{count} things"


def _needs(count: int) -> str:
    return "needs" if count == 1 else "need"


def _were(count: int, *, now: bool = False) -> str:
    if now:
        return "is" if count == 1 else "are"
    return "was" if count == 1 else "were"


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _start(words: str) -> str:
    return words[:1].upper() + words[1:]
