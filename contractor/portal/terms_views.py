"""Terms to read before buying: a public page by link, no account, nothing asked."""

from django.http import FileResponse, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from contractor.core import clock
from contractor.warranties.actions.showing import confirm_reading
from contractor.warranties.documents import terms_context
from contractor.warranties.models import TermsShown
from contractor.warranties.rules.plain_data import terms_from_data


@never_cache
@require_http_methods(["GET", "POST"])
def terms(request: HttpRequest, token: str) -> HttpResponse:
    """The edition that was shown, word for word; a press of the button says that it can be read."""
    if request.method == "POST" and confirm_reading(token=token, at=clock.now()) is not None:
        return redirect("portal:terms", token=token)
    shown = _shown(token)
    if shown is None:
        return _closed(request)
    context = {"shown": shown, "is_beside": True, **terms_context(terms_from_data(shown.terms.data))}
    return _secret(render(request, "portal/terms.html", context))


@never_cache
@require_safe
def terms_document(request: HttpRequest, token: str) -> HttpResponseBase:
    """The exact document, to keep."""
    shown = _shown(token)
    if shown is None:
        return _closed(request)
    name = f"warranty-terms-{shown.terms.edition}.pdf"
    return FileResponse(shown.document.open("rb"), filename=name, content_type="application/pdf")


def _shown(token: str) -> TermsShown | None:
    return TermsShown.objects.select_related("terms").filter(token=token).first()


def _closed(request: HttpRequest) -> HttpResponse:
    return _secret(render(request, "portal/terms_closed.html", status=410))


def _secret(response: HttpResponse) -> HttpResponse:
    response["Referrer-Policy"] = "same-origin"
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response
