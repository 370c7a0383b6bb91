"""How a refusal becomes a sentence beside a field."""

from django import forms

from contractor.core.errors import Refusal


def put_beside(form: forms.Form, refusal: Refusal) -> None:
    """Puts a refusal beside the field that it names, or on top of the form."""
    form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
