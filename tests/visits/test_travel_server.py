"""Driving times from a server that speaks the table service of the Open Source Routing Machine.

Request and answer follow the project's published HTTP API, version 1, "Table service" (from memory): longitude before
latitude, indices of sources and destinations, ``durations`` row by row in seconds, null where there is no route.
"""

import json
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest
from django.core.cache import caches
from django.core.checks import run_checks

from contractor.visits.routing.errors import NotAPlan
from contractor.visits.routing.planning import plan
from contractor.visits.routing.problem import Job, PlanePoint, Position, Problem, Shift, Technician
from contractor.visits.routing.travel import ByDistance
from contractor.visits.travel_server import BLOCK, ByServer, travel_times
from tests.visits.routing.cast import HOUR, MONDAY

PARKING = 120
YARD, NORTH, EAST = Position(40.0, -83.0), Position(40.1, -83.0), Position(40.0, -82.9)


class Roads(ThreadingHTTPServer):
    """A server on which every degree of latitude takes 1,000 seconds northward and 2,000 southward, longitude 500."""

    def __init__(self):
        super().__init__(("127.0.0.1", 0), Answerer)
        self.asked = []
        self.answer = None
        self.code = 200
        self.no_road = set()


class Answerer(BaseHTTPRequestHandler):
    def do_GET(self):
        self.server.asked.append(self.path)
        parts = urlsplit(self.path)
        _, service, version, profile, places = parts.path.split("/")
        assert (service, version, profile) == ("table", "v1", "driving")
        points = [tuple(float(number) for number in place.split(",")) for place in places.split(";")]
        assert len(points) <= 100
        query = parse_qs(parts.query)
        assert query["annotations"] == ["duration"]
        sources, targets = ([int(index) for index in query[name][0].split(";")] for name in ("sources", "destinations"))
        table = [[self._drive(points[source], points[target]) for target in targets] for source in sources]
        body = self.server.answer
        body = json.dumps({"code": "Ok", "durations": table}).encode() if body is None else body
        self.send_response(self.server.code)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def _drive(self, origin, destination):
        if (origin, destination) in self.server.no_road:
            return None
        north = destination[1] - origin[1]
        return round(north * 1000 if north > 0 else -north * 2000, 1) + 500 * abs(destination[0] - origin[0])

    def log_message(self, *args):
        """Says nothing: a test's output is its own."""


@pytest.fixture
def roads(settings, tmp_path):
    settings.CACHES = {
        **settings.CACHES,
        "travel": {"BACKEND": "django.core.cache.backends.filebased.FileBasedCache", "LOCATION": tmp_path / "travel"},
    }
    server = Roads()
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield server
    server.shutdown()
    server.server_close()
    thread.join()
    caches["travel"].clear()


@pytest.fixture
def address(roads):
    return f"http://127.0.0.1:{roads.server_port}"


def test_each_drive_is_the_servers_rounded_up_with_parking_and_each_way_has_its_own_time(address):
    table = ByServer(address).seconds([YARD, NORTH, EAST])
    assert table.tolist() == [
        [0, 100 + PARKING, 50 + PARKING],
        [200 + PARKING, 0, 250 + PARKING],
        [50 + PARKING, 150 + PARKING, 0],
    ]


def test_a_drive_is_asked_for_once(roads, address):
    first = ByServer(address).seconds([YARD, NORTH])
    asked = len(roads.asked)
    again = ByServer(address).seconds([NORTH, YARD])
    assert len(roads.asked) == asked
    assert again.tolist() == first[::-1, ::-1].tolist()
    ByServer(address).seconds([YARD, NORTH, EAST])
    assert len(roads.asked) > asked


def test_many_places_are_asked_for_in_portions_that_every_server_takes(roads, address):
    places = [Position(40 + number / 1000, -83 - number / 1000) for number in range(2 * BLOCK + 5)]
    table = ByServer(address).seconds(places)
    assert len(roads.asked) == 9
    assert table[0, 104] == 104 + 52 + PARKING
    assert np.all(np.diag(table) == 0)


@pytest.mark.parametrize(
    ("code", "answer", "why"),
    [
        (500, b"{}", "it answered with code 500"),
        (429, b"{}", "it answered with code 429"),
        (200, b"<html>", "its answer can't be read"),
        (200, b"[1, 2]", "its answer holds no table"),
        (200, b'{"code": "NoTable"}', "its answer holds no table"),
        (200, b'{"code": "Ok"}', "its table has another size than was asked for"),
        (200, b'{"code": "Ok", "durations": [[0, 1]]}', "its table has another size than was asked for"),
        (200, b'{"code": "Ok", "durations": [[0], [1]]}', "its table has another size than was asked for"),
        (200, b'{"code": "Ok", "durations": [[0, "soon"], [1, 0]]}', "its table holds something that is no time"),
        (200, b'{"code": "Ok", "durations": [[0, -5], [1, 0]]}', "its table holds something that is no time"),
        (200, b'{"code": "Ok", "durations": [[0, NaN], [1, 0]]}', "its table holds something that is no time"),
    ],
)
def test_a_server_that_fails_stops_no_plan(roads, address, code, answer, why):
    roads.code, roads.answer = code, answer
    travel = ByServer(address)
    assert travel.seconds([YARD, NORTH]).tolist() == ByDistance().seconds([YARD, NORTH]).tolist()
    assert travel.cautions() == (
        f"The routing server gave no driving times: {why}. They are reckoned from straight distances.",
    )
    # Nothing of a failure is kept: as soon as the server is well again, its times are used.
    roads.code, roads.answer = 200, None
    assert travel.seconds([YARD, NORTH])[0, 1] == 100 + PARKING
    assert travel.cautions() == ()


def test_a_server_that_nobody_answers_for_stops_no_plan(roads, address):
    roads.shutdown()
    roads.server_close()
    travel = ByServer(address)
    assert travel.seconds([YARD, NORTH]).tolist() == ByDistance().seconds([YARD, NORTH]).tolist()
    assert "it can't be reached" in travel.cautions()[0]


def test_where_the_server_knows_no_road_the_straight_distance_stands_and_the_plan_says_so(roads, address):
    roads.no_road = {((-83.0, 40.0), (-83.0, 40.1))}
    travel = ByServer(address)
    table = travel.seconds([YARD, NORTH])
    assert table[0, 1] == ByDistance().seconds([YARD, NORTH])[0, 1]
    assert table[1, 0] == 200 + PARKING
    assert "knows no road" in travel.cautions()[0]


def test_two_visits_at_one_house_need_no_drive(address):
    assert ByServer(address).seconds([NORTH, NORTH]).tolist() == [[0, 0], [0, 0]]


def test_no_places_need_no_question(roads, address):
    assert ByServer(address).seconds([]).shape == (0, 0)
    assert roads.asked == []


def test_points_of_a_plane_are_refused(address):
    with pytest.raises(NotAPlan, match="Give positions in degrees"):
        ByServer(address).seconds([PlanePoint(0, 0)])


def test_a_plan_is_made_with_the_servers_times_and_carries_its_caution(roads, address):
    roads.no_road = {((-82.9, 40.0), (-83.0, 40.0))}
    asked = Problem(
        jobs=(Job(id="north", position=NORTH, minutes=60), Job(id="east", position=EAST, minutes=60)),
        technicians=(Technician(id="theo"),),
        shifts=(
            Shift(
                technician="theo", day=MONDAY, start=8 * HOUR, end=17 * HOUR, start_place=YARD, end_place=YARD
            ),
        ),
        travel=ByServer(address),
    )
    found = plan(asked, iterations=50)
    assert found.unplanned == {}
    assert any("knows no road" in caution for caution in found.cautions)


def test_the_settings_choose_the_provider(settings, address):
    settings.TRAVEL_SERVER = ""
    assert isinstance(travel_times(), ByDistance)
    settings.TRAVEL_SERVER = address
    provider = travel_times()
    assert isinstance(provider, ByServer)
    assert provider.address == address


@pytest.mark.parametrize(
    ("address", "good"),
    [("", True), ("http://routes.example.com:5000", True), ("https://routes.example.com/x", True)]
    + [(bad, False) for bad in ("routes.example.com", "ftp://routes.example.com", "http://", "/table")],
)
def test_an_address_that_nobody_could_ask_is_named_by_the_system_check(settings, address, good):
    settings.TRAVEL_SERVER = address
    assert ("visits.E001" in {found.id for found in run_checks()}) is not good
