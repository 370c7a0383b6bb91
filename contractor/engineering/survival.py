"""How long parts really last, from the parts that failed and, as much, from those that did not.

Every part gives three facts: its age when it came under observation (0 when this company put it in), its age when it
was last known, and whether it had failed then. A part replaced before it failed is not a failure: its life is known
only to be longer. Parts that were already old when their house was signed up are seen only because they had lasted so
far (left truncation): leaving that out overstates life. A failure found at a check-up happened some time since the one
before; here it is dated when found, which overstates life by up to that interval.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from lifelines import KaplanMeierFitter, WeibullFitter
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from contractor.engineering.errors import BadInput
from contractor.engineering.inputs import FloatArray, finite, not_negative, positive
from contractor.engineering.pump_life import failure_probability

FEWEST_FAILURES: Final = 5
# Shape used until five failures are known. Assumption: 1.2 to 2 for wear-out, no published value for these parts.
REFERENCE_SHAPE: Final = 1.5
_FEW_AT_RISK: Final = 5
_CONFIDENCE: Final = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class SurvivalCurve:
    """Part of the units that survive each age, with 95 % confidence limits.

    ``age``, ``survival``, ``low``, ``high`` are arrays that start at age 0; ``median`` is the age that half survive,
    infinite when more than half of them still live at the oldest age.
    """

    age: FloatArray
    survival: FloatArray
    low: FloatArray
    high: FloatArray
    median: float
    failures: int
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WeibullFit:
    """A Weibull life: shape, scale (in the ages' unit), their 95 % intervals, and how many failures and units gave it.

    ``shape_interval`` is None when the shape was taken from a reference.
    """

    shape: float
    scale: float
    shape_interval: tuple[float, float] | None
    scale_interval: tuple[float, float]
    failures: int
    units: int
    log_likelihood: float
    cautions: tuple[str, ...] = ()

    @property
    def median(self) -> float:
        """Age that half of the units survive."""
        return float(self.scale * np.log(2.0) ** (1.0 / self.shape))


@dataclass(frozen=True, slots=True)
class _Lives:
    entry: FloatArray
    exit: FloatArray
    failed: NDArray[np.bool_]


def _lives(entry: ArrayLike, exit: ArrayLike, failed: ArrayLike) -> _Lives:
    entered, left = not_negative("entry", entry), positive("exit", exit)
    event = np.asarray(failed)
    if event.dtype != np.bool_:
        number = finite("failed", failed)
        if bool(np.any((number != 0) & (number != 1))):
            raise BadInput("failed", number[(number != 0) & (number != 1)].flat[0], "must be true or false, or 1 or 0")
        event = number == 1
    if left.ndim != 1 or left.size == 0:
        raise BadInput("exit", left.tolist(), "must be a list with an age for each unit")
    try:
        entered, event = np.broadcast_to(entered, left.shape), np.broadcast_to(event, left.shape)
    except ValueError:
        raise BadInput("exit", left.size, "must be as many as entry and failed") from None
    if bool(np.any(entered >= left)):
        raise BadInput("entry", float(entered[entered >= left][0]), "must be less than the same unit's exit")
    return _Lives(entered, left, event)


def kaplan_meier(entry: ArrayLike, exit: ArrayLike, failed: ArrayLike) -> SurvivalCurve:
    """Survival by age, without assuming any law.

    S(t) = Π (1 − d/n) over the ages of failures; n counts the units that entered before that age and had not left.
    Ages in any one unit. Valid while enough units are at risk: where fewer than five are, a caution. Source: Kaplan and
    Meier (1958), through lifelines.

    >>> curve = kaplan_meier([0, 0, 0, 0], [1, 2, 3, 4], [True, False, True, False])
    >>> curve.survival.round(3).tolist()
    [1.0, 0.75, 0.75, 0.375, 0.375]
    """
    lives = _lives(entry, exit, failed)
    cautions = []
    fitter = KaplanMeierFitter(alpha=1.0 - _CONFIDENCE)
    fitter.fit(lives.exit, event_observed=lives.failed, entry=lives.entry if lives.entry.any() else None)
    ages = fitter.survival_function_.index.to_numpy(dtype=np.float64)
    limits = fitter.confidence_interval_.to_numpy(dtype=np.float64)
    failed_at = np.unique(lives.exit[lives.failed])
    at_risk = ((lives.entry < failed_at[:, None]) & (lives.exit >= failed_at[:, None])).sum(axis=1)
    if failed_at.size == 0:
        cautions.append("No unit has failed yet: the curve says only that all have survived so far.")
    elif bool(np.any(at_risk < _FEW_AT_RISK)):
        cautions.append("At some ages fewer than five units are at risk: the curve is uncertain there.")
    survival = fitter.survival_function_.to_numpy(dtype=np.float64)[:, 0]
    half_left = ages[survival <= 0.5 + 1e-9]  # the product of many steps may miss an exact half by rounding
    return SurvivalCurve(
        age=ages,
        survival=survival,
        low=limits[:, 0],
        high=limits[:, 1],
        median=float(half_left[0]) if half_left.size else np.inf,
        failures=int(lives.failed.sum()),
        cautions=tuple(cautions),
    )


def weibull(
    entry: ArrayLike, exit: ArrayLike, failed: ArrayLike, *, reference_shape: float = REFERENCE_SHAPE
) -> WeibullFit:
    """Weibull shape and scale from failures, survivors, and units that were old when first seen.

    Maximum of Σ δ·[ln(β/η) + (β − 1)·ln(t/η)] − (t/η)^β + (e/η)^β with entry e, exit t and failure δ. With fewer than
    five failures the shape is ``reference_shape`` and only η = (Σ(t^β − e^β)/r)^(1/β) is fitted, with its chi-square
    interval and a caution; without any failure r = 1, and η is a low estimate. Ages in any one unit, η in the same.
    Source: textbook (Weibull with left truncation; Weibayes, Abernethy), through lifelines.

    >>> fit = weibull(0, [54, 187, 216, 240, 244, 335, 361, 373, 375, 386] + [500] * 10, [1] * 10 + [0] * 10)
    >>> round(fit.shape, 3), round(fit.scale, 1)
    (1.721, 606.5)
    """
    lives = _lives(entry, exit, failed)
    shape = float(positive("reference_shape", reference_shape))
    if int(lives.failed.sum()) < FEWEST_FAILURES:
        return _fixed_shape(lives, shape)
    unit = float(np.median(lives.exit))  # lifelines starts its search near 1
    fitter = WeibullFitter(alpha=1.0 - _CONFIDENCE)
    # Units with the same life are one row with a weight: of a hundred thousand, few thousand rows are left.
    alike, counts = np.unique(np.stack([lives.entry, lives.exit, lives.failed]), axis=1, return_counts=True)
    entered = alike[0] / unit if lives.entry.any() else None
    fitter.fit(alike[1] / unit, event_observed=alike[2], entry=entered, weights=counts)
    summary = fitter.summary
    low, high = f"coef lower {_CONFIDENCE:.0%}", f"coef upper {_CONFIDENCE:.0%}"
    scale, exponent = float(fitter.lambda_) * unit, float(fitter.rho_)
    return WeibullFit(
        shape=exponent,
        scale=scale,
        shape_interval=(float(summary.loc["rho_", low]), float(summary.loc["rho_", high])),
        scale_interval=(float(summary.loc["lambda_", low]) * unit, float(summary.loc["lambda_", high]) * unit),
        failures=int(lives.failed.sum()),
        units=int(lives.exit.size),
        log_likelihood=_log_likelihood(lives, exponent, scale),
        cautions=("Few failures: the intervals are wide.",) if lives.failed.sum() < 2 * FEWEST_FAILURES else (),
    )


def _log_likelihood(lives: _Lives, shape: float, scale: float) -> float:
    rate = np.log(shape / scale) + (shape - 1.0) * np.log(lives.exit / scale)
    exposed = (lives.exit / scale) ** shape - (lives.entry / scale) ** shape
    return float((lives.failed * rate - exposed).sum())


def _fixed_shape(lives: _Lives, shape: float) -> WeibullFit:
    """The scale alone, from the time at risk raised to the shape."""
    failures = int(lives.failed.sum())
    exposed = float((lives.exit**shape - lives.entry**shape).sum())
    tail = (1.0 - _CONFIDENCE) / 2.0
    most = 2.0 * exposed / float(stats.chi2.ppf(tail, 2 * failures)) if failures else np.inf
    least = 2.0 * exposed / float(stats.chi2.ppf(1.0 - tail, 2 * failures + 2))
    words = {0: "No unit has failed yet", 1: "Only one unit has failed"}.get(
        failures, f"Only {failures} units have failed"
    )
    cautions = [f"{words}: the shape {shape:g} is assumed and only the scale is fitted."]
    if failures == 0:
        cautions.append("The scale is computed as if one unit had just failed: the parts may well last longer.")
    scale = (exposed / max(failures, 1)) ** (1.0 / shape)
    return WeibullFit(
        shape=shape,
        scale=scale,
        shape_interval=None,
        scale_interval=(least ** (1.0 / shape), most ** (1.0 / shape)),
        failures=failures,
        units=int(lives.exit.size),
        log_likelihood=_log_likelihood(lives, shape, scale),
        cautions=tuple(cautions),
    )


def expected_failures(ages: ArrayLike, fit: WeibullFit, horizon: float) -> float:
    """How many of the units that work today are expected to fail within a time to come.

    Σ of ``failure_probability`` over the units' ages; ages and horizon in the unit of the fit. Units that are replaced
    are not counted again. Valid as far as the fit is; read its cautions. Source: sum of conditional probabilities.

    >>> fit = weibull(0, [54, 187, 216, 240, 244, 335, 361, 373, 375, 386] + [500] * 10, [1] * 10 + [0] * 10)
    >>> round(expected_failures([500] * 10, fit, 100), 2)
    2.32
    """
    return float(np.sum(failure_probability(not_negative("ages", ages), horizon, fit.shape, fit.scale)))
