"""Text messages: their parts (3GPP TS 23.038 and 23.040, from memory), the words that end them, their numbers."""

import gsm0338
import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.notices.rules.channels import Reach, dialled, way_after, ways_for
from contractor.notices.rules.replies import Reply, meaning_of
from contractor.notices.rules.segments import GSM, GSM_EXTENSION, parts_of, plain

PARTS = [
    ("", "gsm", 0, 1),
    ("a" * 160, "gsm", 160, 1),
    ("a" * 161, "gsm", 161, 2),
    ("a" * 306, "gsm", 306, 2),
    ("a" * 307, "gsm", 307, 3),
    ("€" * 80, "gsm", 160, 1),
    ("a" * 159 + "€", "gsm", 161, 2),
    # 152 letters, then a character of two places that may not be cut: the second part begins with it.
    ("a" * 152 + "€" + "a" * 152, "gsm", 306, 3),
    ("é" * 160, "gsm", 160, 1),
    ("ł", "ucs2", 1, 1),
    ("ł" + "a" * 69, "ucs2", 70, 1),
    ("ł" + "a" * 70, "ucs2", 71, 2),
    ("💧" * 35, "ucs2", 70, 1),
    # 67 places a part hold 33 drops, not 33 and a half.
    ("💧" * 67, "ucs2", 134, 3),
]


@pytest.mark.parametrize(("text", "alphabet", "places", "parts"), PARTS)
def test_a_text_is_counted_as_the_standard_sends_it(text: str, alphabet: str, places: int, parts: int) -> None:
    found = parts_of(text)
    assert (found.alphabet, found.places, found.parts) == (alphabet, places, parts)


@given(st.text(alphabet=GSM + GSM_EXTENSION, max_size=200))
def test_the_seven_bit_alphabet_is_that_of_the_package_gsm0338(text: str) -> None:
    codec = gsm0338.Codec()
    assert parts_of(text).places == len(codec.encode(text)[0])


def test_what_typesetting_adds_costs_no_part() -> None:
    assert plain("It’s “here” – now…\n  Yes") == "It's \"here\" - now... Yes"
    assert parts_of(plain("’" * 100)).alphabet == "gsm"


# The seven words of 47 CFR 64.1200(a)(10) (89 FR 15756) and those of the carriers.
WORDS = [
    *[(word, Reply.STOP) for word in ("stop", "quit", "end", "revoke", "opt out", "cancel", "unsubscribe")],
    *[(word, Reply.STOP) for word in ("STOP", " Stop! ", "STOPALL", "OPT-OUT", "arrêt", "ARRET", "stop.")],
    ("START", Reply.START),
    ("unstop", Reply.START),
    ("Help?", Reply.HELP),
    ("Please stop at the gate", Reply.WORDS),
    ("Can you come at 5?", Reply.WORDS),
    ("", Reply.WORDS),
    ("👍", Reply.WORDS),
]


@pytest.mark.parametrize(("text", "meaning"), WORDS)
def test_an_answer_means_what_the_rules_say(text: str, meaning: Reply) -> None:
    assert meaning_of(text) == meaning


NUMBERS = [
    ("(555) 555-0142", "+15555550142"),
    ("1-555-555-0142", "+15555550142"),
    ("+1 555 555 0142", "+15555550142"),
    ("+44 20 7946 0000", "+442079460000"),
    ("555-0142", ""),
    ("555 555 0142 ext 7", ""),
    ("", ""),
]


@pytest.mark.parametrize(("typed", "number"), NUMBERS)
def test_a_number_is_dialled_only_when_it_is_whole(typed: str, number: str) -> None:
    assert dialled(typed) == number


def reach(**changes: object) -> Reach:
    plain_reach = {"email": "i@example.com", "number": "+15555550142", "wants_email": True, "wants_texts": True}
    return Reach(**{"stopped_texts": False, **plain_reach, **changes})  # type: ignore[arg-type]


WAYS = [
    ({}, True, False, ("text", "email", "letter")),
    ({}, False, False, ("email", "letter")),
    ({"wants_texts": False}, True, False, ("email", "letter")),
    ({"stopped_texts": True}, True, False, ("email", "letter")),
    ({"number": ""}, True, False, ("email", "letter")),
    ({"wants_email": False}, True, False, ("text", "letter")),
    ({"wants_email": False, "wants_texts": False}, True, False, ("letter",)),
    ({"wants_email": False, "wants_texts": False}, True, True, ("email", "letter")),
    ({"email": "", "number": ""}, True, True, ("letter",)),
]


@pytest.mark.parametrize(("changes", "has_short", "asked_for", "ways"), WAYS)
def test_a_message_goes_as_its_reader_wishes_and_a_letter_is_the_last_way(
    changes: dict[str, object], has_short: bool, asked_for: bool, ways: tuple[str, ...]
) -> None:
    assert ways_for(reach(**changes), has_short=has_short, asked_for=asked_for) == ways


def test_after_a_way_that_failed_comes_the_next_and_after_a_letter_nothing() -> None:
    ways = ("text", "email", "letter")
    assert [way_after(way, ways) for way in ways] == ["email", "letter", None]
    assert way_after("text", ("letter",)) is None
