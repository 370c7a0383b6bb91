"""Freezing facts: canonical JSON by RFC 8785, SHA-256 by FIPS 180-4."""

import hashlib
import json

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from contractor.warranties.frozen_facts import fingerprint, freeze
from contractor.warranties.rules.plain_data import facts_to_data
from tests.warranties.rule_builders import done, facts

plain = st.recursive(
    st.none() | st.booleans() | st.integers(min_value=-(2**53) + 1, max_value=2**53 - 1) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)
objects = st.dictionaries(st.text(), plain, max_size=6)


def test_the_worked_example_of_rfc_8785_comes_out_byte_for_byte() -> None:
    """Source: RFC 8785, section 3.2.2 and 3.2.3 (from memory)."""
    example = json.loads(
        r"""{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
             "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
             "literals": [null, true, false]}"""
    )
    expected = (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )
    assert freeze(example).body == expected.encode()


def test_names_are_sorted_by_their_utf_16_code_units() -> None:
    """Source: RFC 8785, section 3.2.3, its table of names (from memory)."""
    names = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    assert list(json.loads(freeze(dict.fromkeys(names)).body)) == [
        "\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33",
    ]  # fmt: skip


def test_the_hash_is_sha_256_of_the_bytes() -> None:
    """Source: the known digest of two bytes "{}", reproduced by any sha256sum (from memory), and hashlib itself."""
    frozen = freeze({})
    assert frozen.body == b"{}"
    assert frozen.sha256 == "44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a"
    assert frozen.sha256 == hashlib.sha256(b"{}").hexdigest()


def test_the_fingerprint_is_the_start_of_the_hash_in_fours() -> None:
    """The digest of "abc" is the example of FIPS 180-4."""
    digest = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert hashlib.sha256(b"abc").hexdigest() == digest
    assert fingerprint(digest) == "ba78 16bf 8f01 cfea"
    assert freeze({}).fingerprint == "4413 6fa3 55b3 678a"


@given(data=objects)
def test_the_order_of_names_does_not_matter(data: dict[str, object]) -> None:
    backwards = dict(reversed(data.items()))
    assert freeze(backwards) == freeze(data)


@given(data=objects)
def test_frozen_facts_thaw_and_freeze_to_the_same_bytes(data: dict[str, object]) -> None:
    frozen = freeze(data)
    assert freeze(json.loads(frozen.body)) == frozen
    assert json.loads(frozen.body) == data


def test_the_facts_of_a_warranty_freeze_alike_in_whatever_order_they_came() -> None:
    first = facts(checkups=(done("2027-05-01"), done("2028-05-01")))
    second = facts(checkups=(done("2028-05-01"), done("2027-05-01")))
    assert freeze(facts_to_data(first)) == freeze(facts_to_data(second))
    assert freeze(facts_to_data(first)) != freeze(facts_to_data(facts(checkups=(done("2027-05-01"),))))


@pytest.mark.parametrize("value", [2**53, float("nan"), float("inf"), "\ud800"])
def test_what_has_no_canonical_form_is_refused(value: object) -> None:
    with pytest.raises(rfc8785.CanonicalizationError):
        freeze({"value": value})
