"""Certificate numbers: ISO 7064 check values, every slip of one symbol or two neighbours, and what people type."""

import random
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.warranties.numbers import (
    ALPHABET,
    check_character,
    display_number,
    draw_number,
    read_number,
)


def drawing(seed: int) -> Callable[[str], str]:
    return random.Random(seed).choice


def listed(symbols: str) -> Callable[[str], str]:
    """A source that gives these symbols one after the other."""
    rest = iter(symbols)
    return lambda _alphabet: next(rest)


numbers = st.integers(min_value=0, max_value=10**9).map(lambda seed: draw_number(drawing(seed)))


def test_the_check_character_is_that_of_iso_7064_mod_37_2() -> None:
    """Source: the example in the documentation of python-stdnum."""
    assert check_character("G123489654321") == "Y"


@given(body=st.text(alphabet=ALPHABET, min_size=8, max_size=8))
def test_the_check_character_makes_the_weighted_sum_one(body: str) -> None:
    """ISO/IEC 7064: sum of value times 2 to the power of the place is 1 modulo 37 (from memory), worked by itself."""
    order = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
    symbols = body + check_character(body)
    total = sum(order.index(symbol) * 2**place for place, symbol in enumerate(reversed(symbols)))
    assert total % 37 == 1


def test_the_alphabet_has_32_symbols_without_those_that_look_alike() -> None:
    """Source: Crockford's base 32 leaves out I, L, O and U."""
    assert len(set(ALPHABET)) == 32
    assert set("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ") - set(ALPHABET) == set("ILOU")


@given(number=numbers)
def test_a_drawn_number_is_well_formed_and_reads_back_as_printed(number: str) -> None:
    assert len(number) == 9
    assert set(number) <= set(ALPHABET)
    assert read_number(display_number(number)).number == number


def test_a_body_whose_check_character_is_outside_the_alphabet_is_drawn_again() -> None:
    bad = next(f"0000000{symbol}" for symbol in ALPHABET if check_character(f"0000000{symbol}") not in ALPHABET)
    assert draw_number(listed(bad + "00000000")) == "000000001"


def test_numbers_come_from_the_secret_source_and_differ() -> None:
    assert len({draw_number() for _ in range(200)}) == 200


def test_every_symbol_can_stand_in_every_place() -> None:
    choose = drawing(7)
    drawn = [draw_number(choose) for _ in range(3000)]
    assert all({number[place] for number in drawn} == set(ALPHABET) for place in range(9))


def test_no_slip_of_one_symbol_or_of_two_neighbours_goes_unseen() -> None:
    """Error trials over 200 numbers: MOD 37-2 misses no single substitution and no swap of neighbours."""
    choose = drawing(20261125)
    for number in (draw_number(choose) for _ in range(200)):
        for place, right in enumerate(number):
            for wrong in ALPHABET:
                if wrong != right:
                    assert read_number(number[:place] + wrong + number[place + 1 :]).number is None
        for place in range(8):
            left, right = number[place], number[place + 1]
            if left != right:
                assert read_number(number[:place] + right + left + number[place + 2 :]).number is None


TYPED = [
    ("000000001", "000000001"),
    ("0000-0000-1", "000000001"),
    (" 0000 0000 1\n", "000000001"),
    ("oooo-OOOO-i", "000000001"),  # O for 0, I for 1
    ("OOOO OOOO l", "000000001"),
    ("0000–0000—1", "000000001"),  # dashes from a letter
    ("0000.0000.1", "000000001"),
    ("００００００００１", "000000001"),  # full-width digits
]


@pytest.mark.parametrize(("typed", "number"), TYPED)
def test_what_people_type_is_read(typed: str, number: str) -> None:
    assert read_number(typed).number == number
    assert read_number(typed).slip == ""


def test_small_letters_are_read() -> None:
    number = draw_number(drawing(3))
    assert read_number(display_number(number).lower()).number == number


SLIPS = [
    ("", "Type the number printed on the certificate."),
    (" - ", "Type the number printed on the certificate."),
    ("0000-0000", "A certificate number has 9 letters and digits; this one has 8."),
    ("0000-0000-11", "A certificate number has 9 letters and digits; this one has 10."),
    ("0000-0000-2", "One of the letters or digits is mistyped; compare them with the certificate."),
    ("0000-U000-1", "A certificate number never has U in it; compare it with the certificate."),
    ("0000/000*/1", "A certificate number never has *, / in it; compare it with the certificate."),
]


@pytest.mark.parametrize(("typed", "slip"), SLIPS)
def test_a_slip_is_told_with_a_sentence(typed: str, slip: str) -> None:
    found = read_number(typed)
    assert (found.number, found.slip) == (None, slip)


@given(typed=st.text(max_size=40))
def test_whatever_is_typed_is_either_a_number_or_a_slip(typed: str) -> None:
    found = read_number(typed)
    assert (found.number is None) is bool(found.slip)
