"""Published instances of routing with time windows, read as problems of our own, for the planner to be measured by.

One unit of length or time of the instance is a minute. Distances are cut off after one decimal, as the best-known
values of the DIMACS 2022 challenge and CVRPLIB are reckoned; other conventions give other values.
"""

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import vrplib
from numpy.typing import NDArray

from contractor.visits.routing.errors import NotAPlan
from contractor.visits.routing.problem import (
    MINUTE,
    Job,
    Place,
    PlanePoint,
    Problem,
    Shift,
    Technician,
    Weights,
    Window,
)

ONE_DAY = date(2000, 1, 3)
TENTH = MINUTE // 10


@dataclass(frozen=True, slots=True)
class TruncatedPlane:
    """Straight distances in a plane, cut off after one decimal; one unit takes a minute."""

    def seconds(self, places: list[Place]) -> NDArray[np.int64]:
        """Whole seconds, (n, n)."""
        points = np.array([(place.x, place.y) for place in places if isinstance(place, PlanePoint)], dtype=float)
        if len(points) != len(places):
            raise NotAPlan("A published instance has points of a plane only. Give positions to the other provider.")
        apart = np.hypot(*np.moveaxis(points[:, None, :] - points[None, :, :], 2, 0))
        seconds: NDArray[np.int64] = np.floor(apart * 10 + 1e-9).astype(np.int64) * TENTH
        return seconds

    def cautions(self) -> tuple[str, ...]:
        return ()


def read_instance(path: Path) -> Problem:
    """A Solomon or VRPLIB file as a problem of one day whose visits are all worth making.

    Raises ``NotAPlan`` for a file of another kind.
    """
    form = "vrplib" if "DIMENSION" in path.read_text(errors="replace")[:2000].upper() else "solomon"
    try:
        found: dict[str, Any] = vrplib.read_instance(path, instance_format=form, compute_edge_weights=False)
        points = [PlanePoint(float(x), float(y)) for x, y in found["node_coord"]]
        demand = [int(value) for value in found["demand"]]
        windows = [(int(opens), int(closes)) for opens, closes in found["time_window"]]
        service = np.broadcast_to(np.asarray(found["service_time"]), (len(points),)).tolist()
        room = int(found["capacity"])
    except (RuntimeError, ValueError, KeyError, IndexError, TypeError) as unreadable:
        raise NotAPlan(
            f"{path.name} is not an instance with time windows in the Solomon or VRPLIB format. Give another file."
        ) from unreadable
    names = [f"vehicle {number:03}" for number in range(1, int(found.get("vehicles", len(points) - 1)) + 1)]
    return Problem(
        jobs=tuple(
            Job(
                id=str(index),
                position=points[index],
                minutes=int(service[index]),
                windows=(Window(opens=windows[index][0] * MINUTE, closes=windows[index][1] * MINUTE),),
                carry=demand[index],
            )
            for index in range(1, len(points))
        ),
        technicians=tuple(Technician(id=name) for name in names),
        shifts=tuple(
            Shift(
                technician=name,
                day=ONE_DAY,
                start=windows[0][0] * MINUTE,
                end=windows[0][1] * MINUTE,
                start_place=points[0],
                end_place=points[0],
                room=room,
            )
            for name in names
        ),
        travel=TruncatedPlane(),
        weights=Weights(prizes=(1_000_000, 1_000_000, 1_000_000)),
    )




def gap_per_cent(distance: float, best_known: float) -> float:
    """How far above the best-known distance, in per cent of it."""
    return 100 * (distance - best_known) / best_known
