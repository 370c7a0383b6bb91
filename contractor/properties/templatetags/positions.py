"""Says on a page how well a house's position is known."""

from django import template
from django.utils.safestring import SafeString

from contractor.core.templatetags.marks import tone
from contractor.properties.models import Property
from contractor.properties.positions import KnownPosition, position_of

register = template.Library()


@register.filter
def known_position(house: Property) -> KnownPosition | None:
    """The position of a house with its source."""
    return position_of(house)


@register.simple_tag
def position_doubt(house: Property) -> SafeString:
    """A mark where drives to a house are a guess or can't be reckoned; nothing where its position is known."""
    position = position_of(house)
    if position is None:
        return tone("bad", "no position")
    return tone("watch", "rough position") if position.is_rough else SafeString("")
