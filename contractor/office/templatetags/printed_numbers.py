"""Numbers as they are printed on the documents, so that they can be compared over the telephone."""

from django import template

from contractor.warranties.printed_codes import display_warranty_number

register = template.Library()


@register.filter
def warranty_number(number: str) -> str:
    """A warranty's number as its document shows it: W-7K3M-9QX2-C."""
    return display_warranty_number(number)
