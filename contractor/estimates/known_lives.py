"""How long this company's own parts have lasted: reads the records, and the fits that were stored of them."""

from dataclasses import asdict, dataclass, field
from datetime import date

from contractor.estimates.models import FleetLife
from contractor.estimates.rules.facts import ESTIMATED_KINDS, OwnLife
from contractor.estimates.rules.lives import Life, LifeFit, life_fits
from contractor.systems.models import Component


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLives:
    """Stored fits by part kind and, where a model has enough failures of its own, by model."""

    by_kind: dict[str, OwnLife] = field(default_factory=dict)
    by_model: dict[int, OwnLife] = field(default_factory=dict)

    def of(self, part_kind: str, model_id: int | None) -> OwnLife | None:
        """The fit of a part's model, else of its kind, else none."""
        own = self.by_model.get(model_id) if model_id is not None else None
        return own or self.by_kind.get(part_kind)


def own_lives() -> OwnLives:
    """The fits as stored at the last renewal."""
    lives = OwnLives()
    for row in FleetLife.objects.all():
        fit = OwnLife(
            of="kind" if row.model_id is None else "model",
            shape=row.shape,
            scale_years=row.scale_years,
            failures=row.failures,
            units=row.units,
            known_on=row.known_on,
        )
        if row.model_id is None:
            lives.by_kind[row.part_kind] = fit
        else:
            lives.by_model[row.model_id] = fit
    return lives


def fleet_lives(*, on: date) -> list[Life]:
    """Every battery's and pump's life as known on a day: when we came to know the part, how it left, whether failed.

    A part that stood in the ground when its system was registered has been under observation only since then.
    """
    rows = (
        Component.objects.filter(part_kind__in=ESTIMATED_KINDS, in_on__lte=on)
        .order_by("pk")
        .values_list("part_kind", "model_id", "in_on", "out_on", "failed", "system__created_at")
    )
    lives = []
    for part_kind, model_id, in_on, out_on, failed, created_at in rows.iterator():
        gone = out_on is not None and out_on <= on
        lives.append(
            Life(
                part_kind=part_kind,
                model_id=model_id,
                in_on=in_on,
                seen_from=max(in_on, created_at.date()),
                until=out_on if gone and out_on is not None else on,
                failed=gone and failed,
            )
        )
    return lives


def fits_known_on(*, on: date) -> list[LifeFit]:
    """The fits that hold in the month of a day: made from what was known on its first."""
    return life_fits(fleet_lives(on=on.replace(day=1)))


def wrong_lives() -> list[str]:
    """A sentence for every stored fit that isn't the one made again from the records of its day."""
    rows = list(FleetLife.objects.order_by("pk"))
    fitted = {known_on: fits_known_on(on=known_on) for known_on in {row.known_on for row in rows}}
    return [
        f"{row}: the stored fit of {row.known_on} is not the one made again."
        for row in rows
        if not any(asdict(fit).items() <= vars(row).items() for fit in fitted[row.known_on])
    ]
