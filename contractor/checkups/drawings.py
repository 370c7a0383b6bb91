"""The section drawing of a check-up's system: its parts as they were last found."""

from typing import Any

from django.utils.safestring import mark_safe

from contractor.checkups.models import CheckUp
from contractor.checkups.queries import drawn_parts
from contractor.systems.drawing import legend, section_drawing


def drawing_of(checkup: CheckUp) -> dict[str, Any]:
    """``drawing`` as SVG and its ``legend``, on the day of the check-up."""
    parts = drawn_parts(system=checkup.system, on=checkup.done_on)
    svg = section_drawing(
        parts,
        title=f"The system at {checkup.system.property.street_line}",
        description="A section through the basement wall with the installed parts and their condition.",
        prefix=f"checkup-{checkup.pk}",
        compact=True,
    )
    # The drawing escapes every label itself.
    return {"drawing": mark_safe(svg), "legend": legend(parts)}  # noqa: S308
