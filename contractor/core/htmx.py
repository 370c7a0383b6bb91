"""One view serves a whole page and its fragment."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def page_or_fragment(
    request: HttpRequest, *, page: str, fragment: str, context: dict[str, Any], status: int = 200
) -> HttpResponse:
    """Renders the fragment for an htmx request and the page for everybody else."""
    is_fragment = bool(getattr(request, "htmx", False)) and not getattr(request.htmx, "boosted", False)  # type: ignore[attr-defined]
    response = render(request, fragment if is_fragment else page, context, status=status)
    response["Vary"] = "HX-Request"
    return response
