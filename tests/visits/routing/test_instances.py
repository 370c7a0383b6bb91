"""The planner on published instances: Solomon (1987), best-known values of the DIMACS 2022 challenge and CVRPLIB.

The bounds are for a small fixed number of steps with a fixed seed, so that they say the same on every machine.
"""

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from contractor.visits.routing.checking import check
from contractor.visits.routing.errors import NotAPlan
from contractor.visits.routing.instances import gap_per_cent, read_instance
from contractor.visits.routing.planning import plan

INSTANCES = Path(__file__).parent.parent / "instances"


@pytest.mark.parametrize(
    ("name", "best_known", "gap_allowed_per_cent"),
    [("C101", 827.3, 0.0), ("R101", 1637.7, 1.0), ("RC101", 1619.8, 2.0)],
)
def test_the_gap_to_the_best_known_distance_is_small(name, best_known, gap_allowed_per_cent):
    asked = read_instance(INSTANCES / f"{name}.txt")
    found = plan(asked, iterations=1000)
    assert check(asked, found) == []
    assert found.unplanned == {}
    assert -1e-9 <= gap_per_cent(found.travel_minutes, best_known) <= gap_allowed_per_cent + 1e-9


def test_the_command_tells_distance_vehicles_and_gap():
    said = StringIO()
    call_command("solve_instance", str(INSTANCES / "C101.txt"), iterations=300, best=827.3, stdout=said)
    assert said.getvalue().splitlines() == ["distance 827.3", "vehicles 10", "left out 0", "gap 0.00 %"]


@pytest.mark.parametrize("file", ["README.md", "missing.txt"])
def test_a_file_that_is_no_instance_is_refused(file):
    with pytest.raises(CommandError, match="Give"):
        call_command("solve_instance", str(INSTANCES / file), iterations=1)


def test_a_vrplib_file_is_read_too(tmp_path):
    file = tmp_path / "small.vrp"
    file.write_text(
        "NAME : small\nTYPE : VRPTW\nDIMENSION : 3\nEDGE_WEIGHT_TYPE : EUC_2D\nCAPACITY : 10\nSERVICE_TIME : 5\n"
        "NODE_COORD_SECTION\n1 0 0\n2 3 4\n3 6 8\nDEMAND_SECTION\n1 0\n2 4\n3 5\n"
        "TIME_WINDOW_SECTION\n1 0 100\n2 0 50\n3 0 50\nDEPOT_SECTION\n1\n-1\nEOF\n"
    )
    asked = read_instance(file)
    assert plan(asked, iterations=10).travel_minutes == 20.0  # 5 out, 5 on, 10 back (the triangle 3-4-5)


def test_a_solomon_heading_without_numbers_is_refused(tmp_path):
    file = tmp_path / "empty.txt"
    file.write_text("C101\n\nVEHICLE\n")
    with pytest.raises(NotAPlan):
        read_instance(file)
