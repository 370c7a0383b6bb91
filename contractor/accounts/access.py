"""Who may open which page."""

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from contractor.accounts.models import Role, User

View = Callable[..., HttpResponseBase]

DESK = (Role.OFFICE, Role.MANAGER)
EVERYBODY = (Role.OFFICE, Role.MANAGER, Role.TECHNICIAN)


def signed_in(request: HttpRequest) -> User:
    """The member of staff who asks. Views under ``staff_only`` may rely on it."""
    return cast(User, request.user)


def staff_only(*roles: Role) -> Callable[[View], View]:
    """Lets only these roles in: others are told so (403), strangers are sent to sign in first."""

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            if signed_in(request).role not in roles:
                raise PermissionDenied
            return view(request, *args, **kwargs)

        guarded.allowed_roles = roles  # type: ignore[attr-defined]  # read by the test that walks every address
        return guarded

    return decorate
