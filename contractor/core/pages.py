"""Middleware for every page: private pages are not stored, refusals are shown as sentences."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from contractor.core.errors import Refusal

GetResponse = Callable[[HttpRequest], HttpResponse]


class PrivatePagesMiddleware:
    """Nothing that a signed-in person or a secret link sees is kept by a browser or a proxy."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if not request.path.startswith("/static/"):
            response.headers.setdefault("Cache-Control", "no-store")
        return response


class RefusalMiddleware:
    """A refusal that no view has put beside a field becomes a page that says what happened and what to do."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, Refusal):
            return None
        return render(request, "refusal.html", {"sentence": exception.sentence}, status=409)
