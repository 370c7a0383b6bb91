"""How long drives take, reckoned without a network."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from contractor.visits.routing.errors import NotAPlan
from contractor.visits.routing.problem import MINUTE, Place, PlanePoint, Position

EARTH_RADIUS_KM = 6371.0088  # mean radius R1 of WGS 84 and GRS 80 (Moritz, Geodetic Reference System 1980)


def great_circle_km(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Distances between all pairs on a sphere, km, by the haversine formula; ``points`` are (n, 2) degrees.

    >>> float(np.round(great_circle_km(np.array([[0.0, 0.0], [0.0, 90.0]]))[0, 1], 1))
    10007.6
    """
    latitude, longitude = np.radians(points[:, 0]), np.radians(points[:, 1])
    between_latitudes = np.sin((latitude[:, None] - latitude[None, :]) / 2) ** 2
    between_longitudes = np.sin((longitude[:, None] - longitude[None, :]) / 2) ** 2
    half_chord = between_latitudes + np.cos(latitude)[:, None] * np.cos(latitude)[None, :] * between_longitudes
    result: NDArray[np.float64] = 2 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.clip(half_chord, 0, 1)))
    return result


@dataclass(frozen=True, slots=True, kw_only=True)
class ByDistance:
    """Great-circle distance times a detour factor, driven at speeds that rise with the distance.

    The factor 1.3 lies within the 1.2 to 1.5 that Ballou, Rahardja and Sakai (2002) and Boscoe, Henry and Zdeb (2012)
    give for road networks (from memory). The speeds are assumptions: 30 km/h for the first 3 km, 50 up to 15 km, 80
    beyond. Parking and walking to the door is added to every drive between two different places (common practice, no
    source).
    """

    circuity: float = 1.3
    near_km_h: float = 30.0
    middle_km_h: float = 50.0
    far_km_h: float = 80.0
    near_km: float = 3.0
    middle_km: float = 15.0
    parking_minutes: float = 2.0

    def __post_init__(self) -> None:
        if not 1 <= self.circuity <= 3:
            raise NotAPlan(f"A road is 1 to 3 times as long as the straight line, not {self.circuity} times.")
        if min(self.near_km_h, self.middle_km_h, self.far_km_h) <= 0 or self.parking_minutes < 0:
            raise NotAPlan("Speeds must be above nothing, and parking can't take less than no time.")
        if not 0 <= self.near_km <= self.middle_km:
            raise NotAPlan("The near distance must lie between nothing and the middle distance.")

    def seconds(self, places: list[Place]) -> NDArray[np.int64]:
        """Whole seconds from each place to each, rounded up."""
        if any(isinstance(place, PlanePoint) for place in places):
            raise NotAPlan("Points of a plane have no roads between them. Give positions in degrees.")
        points = np.array(
            [(place.latitude, place.longitude) for place in places if isinstance(place, Position)], dtype=float
        ).reshape(-1, 2)
        road_km = great_circle_km(points) * self.circuity
        near = np.minimum(road_km, self.near_km)
        middle = np.clip(road_km - self.near_km, 0, self.middle_km - self.near_km)
        far = np.maximum(road_km - self.middle_km, 0)
        hours = near / self.near_km_h + middle / self.middle_km_h + far / self.far_km_h
        elsewhere = np.any(points[:, None, :] != points[None, :, :], axis=2)
        seconds = np.ceil(hours * 3600 - 1e-9) + elsewhere * self.parking_minutes * MINUTE
        return np.where(elsewhere, seconds, 0).astype(np.int64)

    def cautions(self) -> tuple[str, ...]:
        return ("Driving times are reckoned from straight distances, not from roads.",)
