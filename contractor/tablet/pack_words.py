"""One item of a checklist as the tablet reads it."""

from typing import Any, Final

from contractor.checkups.rules.items import STEPS, Item

CHOICES: Final = ("good", "watch", "bad", "not_possible")


def item_told(item: Item, units: str) -> dict[str, Any]:
    """An item with its limits in SI; ``unit`` is the company's, ``other_unit`` the other gauge's where there is one.

    ``applies_to`` is told as well, because a part that is swapped underground gets its own lines there.
    """
    unit = item.unit(units) or ""
    other = {item.unit_us or "", item.unit_metric or ""} - {unit, ""}
    return {
        "code": item.code,
        "part_kind": item.part_kind,
        "step": item.step,
        "step_word": STEPS[item.step],
        "position": item.position,
        "kind": item.kind,
        "subject": item.name,
        "prompt": item.prompt,
        "how": item.how,
        "quantity": item.quantity or "",
        "unit": unit,
        "other_unit": min(other, default=""),
        "good_low": item.good_low,
        "good_high": item.good_high,
        "watch_low": item.watch_low,
        "watch_high": item.watch_high,
        "caution": item.caution,
        "consequence": item.consequence,
        "when_watch": item.when_watch,
        "what_to_do": item.what_to_do,
        "severity": item.severity,
        "photo": item.photo,
        "required": item.required,
        "formula": item.formula or "",
        "feeds": item.feeds or "",
        "applies_to": {key: list(accepted) for key, accepted in item.applies_to},
        "choices": list(CHOICES) if item.kind == "check" else [],
    }
