"""Reading an event: what is needed to keep it, whichever version wrote it, and what is set aside with its reason."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contractor.tablet.errors import Unreadable
from contractor.tablet.rules.events import FIELDS, LATEST, UPCASTERS, TabletEvent, claimed_id, read_event

GOLDEN = Path(__file__).resolve().parents[2] / "fixtures/tablet/events"
SOME = {
    "v": 1,
    "id": "019a0000-0000-7000-8000-000000000001",
    "visit": "12",
    "device": "019a0000-0000-7000-8000-0000000000d1",
    "actor": 4,
    "kind": "answer",
    "field": "answer:mould:0",
    "value": {"condition": "good"},
    "bases": [],
    "at": "2026-05-04T10:00:00-04:00",
    "zone": "America/New_York",
    "mono": 5,
    "clock_off": 0,
}


def text(**changed: Any) -> str:
    return json.dumps({**SOME, **changed})


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        ("", "no_json"),
        ("{", "no_json"),
        ('{"v": NaN}', "no_json"),
        ("[" * 100_000, "no_json"),
        ('{"v": ' + "9" * 5000 + "}", "no_json"),
        ('{"v": 1, "id": "\ud800"}', "no_json"),
        ("[1]", "no_object"),
        ("null", "no_object"),
        ("x" * 1_000_001, "too_long"),
        (text(v="1"), "no_version"),
        (text(v=True), "no_version"),
        (text(v=0), "no_version"),
        (text(v=2), "newer_version"),
        (text(v=10**30), "newer_version"),
        (text(kind="dream"), "unknown_kind"),
        (text(kind=["answer"]), "unknown_kind"),
        (text(field="answer:mould"), "wrong_field"),
        (text(field="answer:mould:0\n"), "wrong_field"),
        (text(field="photo:7", kind="photo"), "wrong_field"),
        (text(field=7), "wrong_field"),
        (text(field="answer:mould:swap:7"), "wrong_field"),
        (text(id="7"), "wrong_id"),
        (text(id="019A0000-0000-7000-8000-000000000001"), "wrong_id"),
        (text(device=None), "wrong_device"),
        (text(visit=12), "wrong_visit"),
        (text(visit="012"), "wrong_visit"),
        (text(visit="1" * 30), "wrong_visit"),
        (text(visit="١٢"), "wrong_visit"),
        (text(actor="4"), "wrong_actor"),
        (text(actor=True), "wrong_actor"),
        (text(actor=10**40), "wrong_actor"),
        (text(value="good"), "wrong_value"),
        (text(value=[]), "wrong_value"),
        (text(bases=None), "wrong_bases"),
        (text(bases=["x"]), "wrong_bases"),
        (text(bases=[[]]), "wrong_bases"),
        (text(bases=["019a0000-0000-7000-8000-000000000001"] * 501), "wrong_bases"),
        (text(at="yesterday"), "wrong_time"),
        (text(at="2026-05-04T10:00:00"), "wrong_time"),
        (text(at="9999-12-31T23:59:59-14:00"), "wrong_time"),
        (text(at=5), "wrong_time"),
        (json.dumps({name: value for name, value in SOME.items() if name != "value"}), "wrong_value"),
    ],
)
def test_what_is_no_event_says_why(raw: str, code: str) -> None:
    with pytest.raises(Unreadable) as refused:
        read_event(raw)
    assert refused.value.code == code
    assert refused.value.sentence.endswith(".")


@pytest.mark.parametrize("off", [None, "7", True, 1e400, float("inf"), 10**400, [], -1e30])
def test_a_clock_error_that_means_nothing_is_left_out(off: object) -> None:
    raw = text(clock_off=0).replace('"clock_off": 0', f'"clock_off": {json.dumps(off).replace("Infinity", "1e999")}')
    assert read_event(raw).clock_off_ms is None


def test_a_value_of_null_takes_back() -> None:
    assert read_event(text(value=None)).value is None


def test_more_than_the_event_needs_is_no_reason_to_refuse_it() -> None:
    assert read_event(text(colour="blue", value={"weather": {"deep": [1]}})).field == "answer:mould:0"


def golden_files() -> list[Path]:
    return sorted(GOLDEN.glob("v*/*.json"))


@pytest.mark.parametrize("path", golden_files(), ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_version_ever_released_reads_as_it_did(path: Path) -> None:
    """Golden files are only added: a tablet that slept in a drawer still writes them."""
    case = json.loads(path.read_text())
    event = read_event(case["raw"])
    expected = case["reads_as"]
    assert {name: str(getattr(event, name)) for name in expected if name not in {"value", "bases"}} == {
        name: value for name, value in expected.items() if name not in {"value", "bases"}
    }
    assert event.value == expected["value"]
    assert [str(base) for base in event.bases] == expected["bases"]


def test_every_version_has_its_golden_files_for_every_kind_and_a_way_up() -> None:
    for version in range(1, LATEST + 1):
        kinds = {json.loads(json.loads(path.read_text())["raw"])["kind"] for path in GOLDEN.glob(f"v{version}/*.json")}
        assert kinds == set(FIELDS), f"version {version}"
    assert set(UPCASTERS) == set(range(1, LATEST))


def event_or_reason(raw: str) -> TabletEvent | str:
    try:
        return read_event(raw)
    except Unreadable as reason:
        return reason.code


@given(st.text())
def test_any_text_is_an_event_or_says_why(raw: str) -> None:
    assert event_or_reason(raw)
    assert claimed_id(raw) == ""


ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@given(st.dictionaries(st.sampled_from(sorted(SOME)), ANY_JSON, max_size=3))
def test_any_wrong_part_of_an_event_is_an_event_or_says_why(changed: dict[str, Any]) -> None:
    assert event_or_reason(json.dumps({**SOME, **changed}))
