"""Checks every number at the door, and gives scalars back as scalars.

A public function of this package takes floats or numpy arrays that broadcast together. It turns each argument
into an array with one of the checks below, computes once for all of them, and returns ``as_given(result)``:
a Python float when everything was a scalar, an array otherwise.
"""

import warnings
from collections.abc import Iterable
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from contractor.engineering.errors import BadInput, Caution

FloatArray: TypeAlias = NDArray[np.float64]
Quantity: TypeAlias = float | FloatArray


def refuse_where(bad: NDArray[np.bool_], argument: str, values: FloatArray, rule: str) -> None:
    """BadInput for the first bad element, if there is one; ``bad`` may be larger than the values it was found with."""
    if bad.any():
        raise BadInput(argument, float(np.broadcast_to(values, bad.shape)[bad].flat[0]), rule)


def finite(argument: str, value: object) -> FloatArray:
    """The value as an array of ordinary numbers; BadInput for text, None, NaN or infinity.

    >>> finite("head_m", [1, 2]).tolist()
    [1.0, 2.0]
    """
    try:
        values = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError):
        raise BadInput(argument, repr(value), "must be a number or an array of numbers") from None
    refuse_where(~np.isfinite(values), argument, values, "must be an ordinary number")
    return values


def positive(argument: str, value: object) -> FloatArray:
    """As ``finite``, and greater than zero."""
    values = finite(argument, value)
    refuse_where(values <= 0, argument, values, "must be greater than zero")
    return values


def not_negative(argument: str, value: object) -> FloatArray:
    """As ``finite``, and zero or greater."""
    values = finite(argument, value)
    refuse_where(values < 0, argument, values, "must not be negative")
    return values


def within(argument: str, value: object, low: float, high: float) -> FloatArray:
    """As ``finite``, and from ``low`` to ``high``, both included."""
    values = finite(argument, value)
    refuse_where((values < low) | (values > high), argument, values, f"must lie from {low:g} to {high:g}")
    return values


def as_given(values: object) -> Quantity:
    """A Python float for a single number, the array itself for an array.

    >>> as_given(np.array(2.5)), as_given(np.array([2.5])).tolist()
    (2.5, [2.5])
    """
    array = np.asarray(values, dtype=np.float64)
    return float(array) if array.ndim == 0 else array


def warn(cautions: Iterable[str]) -> None:
    """Issue each sentence as a ``Caution`` that points at the caller of the public function."""
    for sentence in cautions:
        warnings.warn(sentence, Caution, stacklevel=3)
