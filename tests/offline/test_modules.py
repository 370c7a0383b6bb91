"""The tablet's small modules, run in the browser they are made for, against published vectors and other libraries."""

import hashlib
import os
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser, Page, Playwright

from contractor.checkups.figures import counter_caution
from contractor.core.units import to_si
from contractor.tablet.rules.events import TabletEvent
from contractor.tablet.rules.heads import conflicts_of, heads_of
from tests.journeys.conftest import CHROMIUM, FLAGS
from tests.offline.site import ROOT

pytestmark = pytest.mark.browser

MODULES = ROOT / "static" / "js" / "tablet"


@pytest.fixture(scope="module")
def chromium(playwright: Playwright) -> Iterator[Browser]:
    path = next(path for path in CHROMIUM if os.path.exists(path))
    browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
    yield browser
    browser.close()


def page_in(chromium: Browser, zone: str) -> Page:
    """An empty page on a secure origin, with our modules beside it and nothing else."""
    context = chromium.new_context(timezone_id=zone)

    def serve(route: Any) -> None:
        name = route.request.url.rsplit("/", 1)[-1]
        if name.endswith(".js"):
            (module,) = MODULES.rglob(name)
            route.fulfill(body=module.read_text(), content_type="text/javascript")
        else:
            route.fulfill(body="<!doctype html><title>Modules</title>", content_type="text/html")

    context.route("**/*", serve)
    page = context.new_page()
    page.goto("https://tablet.example.com/")
    return page


@pytest.fixture(scope="module")
def page(chromium: Browser) -> Page:
    return page_in(chromium, "America/New_York")


def test_an_id_is_laid_out_as_the_standards_example(page: Page) -> None:
    """RFC 9562, appendix A.6: Unix time 0x017F22E279B0, rand_a 0xCC3, rand_b 0x18C4DC0C0C07398F."""
    made = page.evaluate(
        """async () => (await import('/ids.js')).layout(
          0x017F22E279B0, 0xCC3, new Uint8Array([0x18, 0xC4, 0xDC, 0x0C, 0x0C, 0x07, 0x39, 0x8F]))"""
    )
    assert made == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"


def test_ids_rise_even_when_the_clock_steps_back(page: Page) -> None:
    """RFC 9562, section 6.2: a counter keeps ids made in one millisecond, or after the clock stepped back, in order."""
    made = page.evaluate(
        """async () => {
          const {newId} = await import('/ids.js');
          const start = Date.now();
          return [...Array(9000).keys()].map((turn) => newId(turn < 5000 ? start + turn % 3 : start - 864e5));
        }"""
    )
    assert made == sorted(made)
    assert len(set(made)) == len(made)
    assert all(UUID(one).version == 7 and UUID(one).variant == "specified in RFC 4122" for one in made)


@pytest.mark.parametrize("text", ["", "abc", "41.5 °F, “good”", "𝔘 and \u0000 and \n", "x" * 200_000])
def test_hashes_are_those_of_another_library(page: Page, text: str) -> None:
    """Python's hashlib; "" and "abc" also stand as examples in FIPS 180-4."""
    made = page.evaluate("async (text) => (await import('/hash.js')).sha256(text)", text)
    assert made == hashlib.sha256(text.encode()).hexdigest()


@pytest.mark.parametrize("zone", ["America/New_York", "Asia/Kathmandu", "Pacific/Marquesas", "UTC"])
def test_times_are_written_as_python_reads_them(chromium: Browser, zone: str) -> None:
    """Offsets of whole hours, of 45 and of 30 minutes, on either side of summer time (the IANA time zone database)."""
    page = page_in(chromium, zone)
    for moment in (datetime(2026, 1, 15, 12, 0, 0, 7000, tzinfo=UTC), datetime(2026, 7, 15, 3, 30, tzinfo=UTC)):
        ms = round(moment.timestamp() * 1000)
        written = page.evaluate("async (ms) => (await import('/clock.js')).isoWithOffset(ms)", ms)
        read = datetime.fromisoformat(written)
        assert read == moment
        assert read.utcoffset() == moment.astimezone(ZoneInfo(zone)).utcoffset()
    page.context.close()


def test_the_clock_s_error_is_told_from_an_answer(page: Page) -> None:
    told = page.evaluate(
        """async () => {
          const {hearServer, clockOffset} = await import('/clock.js');
          const before = clockOffset();
          const asked = Date.parse('2026-05-04T14:07:00Z');
          hearServer('2026-05-04T14:00:00+00:00', asked, asked + 2000);
          return [before, clockOffset()];
        }"""
    )
    assert told == [None, timedelta(minutes=7, seconds=1).total_seconds() * 1000]


Told = tuple[str, str, list[str], Any]
STANDING: list[tuple[str, list[Told], dict[str, list[str]], list[str]]] = [
    ("nothing said", [], {}, []),
    ("one answer", [("1", "a", [], {"n": 1})], {"a": ["1"]}, []),
    ("corrected", [("1", "a", [], {"n": 1}), ("2", "a", ["1"], {"n": 2})], {"a": ["2"]}, []),
    ("two who did not see each other", [("1", "a", [], {"n": 1}), ("2", "a", [], {"n": 2})], {"a": ["1", "2"]}, ["a"]),
    ("two who say the same", [("1", "a", [], {"n": 1}), ("2", "a", [], {"n": 1})], {"a": ["1", "2"]}, []),
    ("resolved", [("1", "a", [], {"n": 1}), ("2", "a", [], {}), ("3", "a", ["1", "2"], {"n": 2})], {"a": ["3"]}, []),
    ("taken back", [("1", "a", [], {"n": 1}), ("2", "a", ["1"], None)], {"a": ["2"]}, []),
    ("arrived before what it replaces", [("2", "a", ["1"], {"n": 2})], {"a": ["2"]}, []),
    ("another field is not silenced", [("1", "a", [], {"n": 1}), ("2", "b", ["1"], {})], {"a": ["1"], "b": ["2"]}, []),
    ("nothing replaces itself", [("1", "a", ["1"], {"n": 1})], {"a": ["1"]}, []),
]
HEADS = """async (events) => {
  const {headsOf, conflictsIn} = await import('/heads.js');
  const heads = headsOf(events);
  const byField = Object.fromEntries([...heads].map(([field, all]) => [field, all.map((one) => one.id)]));
  return [byField, conflictsIn(heads).sort()];
}"""


@pytest.mark.parametrize(
    ("events", "heads", "conflicts"), [case[1:] for case in STANDING], ids=[case[0] for case in STANDING]
)
def test_what_nobody_replaced_stands(
    page: Page, events: list[Told], heads: dict[str, list[str]], conflicts: list[str]
) -> None:
    told = [{"id": number, "field": field, "bases": bases, "value": value} for number, field, bases, value in events]
    for order in (told, told[::-1], told + told):
        assert page.evaluate(HEADS, order) == [heads, conflicts]


def test_tablet_and_office_find_the_same_answers_standing(page: Page) -> None:
    """Random histories, in any order and with doubles; the office's own rule is the other opinion."""
    random = Random(9562)
    for _ in range(60):
        told: list[dict[str, Any]] = []
        for number in range(1, random.randrange(2, 14)):
            field = random.choice(["answer:a:0", "answer:b:0"])
            seen = [one["id"] for one in told if random.random() < 0.5]
            value = random.choice([None, {"number": "1", "unit": "V"}, {"unit": "V", "number": "1"}, {"number": "2"}])
            told.append({"id": str(UUID(int=number)), "field": field, "bases": seen, "value": value})
        order = random.sample(told, len(told)) + random.choices(told, k=3)
        heads = heads_of(as_the_office_reads(one) for one in order)
        assert page.evaluate(HEADS, order) == [
            {field: sorted(str(one.id) for one in found) for field, found in heads.items()},
            sorted(conflicts_of(heads)),
        ]


def as_the_office_reads(told: dict[str, Any]) -> TabletEvent:
    return TabletEvent(
        id=UUID(told["id"]),
        version=1,
        visit=1,
        device=UUID(int=1),
        actor=1,
        kind="answer",
        field=told["field"],
        value=told["value"],
        bases=tuple(UUID(base) for base in told["bases"]),
        at=datetime(2026, 5, 4, tzinfo=UTC),
    )


@pytest.mark.parametrize(
    ("feeds", "last", "now", "unit", "is_less"),
    [
        ("pump.run_hours", "208", "160", "h", True),
        ("pump.run_hours", "208", "208", "h", False),
        ("pump.run_hours", "208.3333333", "208.3333333", "h", False),
        ("pump.run_hours", "208", "251.5", "h", False),
        ("pump.starts", "86337", "8637", "count", True),
        ("pump.starts", None, "8637", "count", False),
        ("battery.rest_v", "12.9", "12.5", "V", False),
        ("", "12", "3", "in", False),
    ],
)
def test_a_counter_that_reads_less_than_last_time_is_to_be_read_again(
    page: Page, feeds: str, last: str | None, now: str, unit: str, is_less: bool
) -> None:
    """The tablet's sentence and that of the office's page, which share no code, on the same readings."""
    line = {"item": {"feeds": feeds}, "last": last and {"number": last, "unit": unit}}
    on_tablet = page.evaluate(
        "async ([line, si]) => (await import('/figures.js')).counterWords(line, si)", [line, to_si(float(now), unit)]
    )
    at_office = counter_caution(feeds, to_si(float(now), unit), None if last is None else to_si(float(last), unit))
    assert on_tablet == at_office
    assert at_office.startswith("Less than last time: read it again") is is_less


def test_every_module_imports_what_exists() -> None:
    for path in MODULES.rglob("*.js"):
        for name in re.findall(r"""\bfrom "(\.{1,2}/[^"]+)";""", path.read_text()):
            assert (path.parent / name).resolve().is_file(), f"{path.name} imports {name}"
