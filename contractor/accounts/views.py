"""Sign-in, staff, the company, and the pages for wrong turns."""

from django.contrib import messages
from django.contrib.auth import login, logout
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts import actions
from contractor.accounts.access import signed_in, staff_only
from contractor.accounts.errors import LinkClosed
from contractor.accounts.forms import (
    AddStaffForm,
    ChangeStaffForm,
    CompanyForm,
    ForgottenForm,
    NewPasswordForm,
    SignInForm,
)
from contractor.accounts.models import Role, User
from contractor.accounts.queries import the_company, whose_link
from contractor.core import clock
from contractor.core.errors import Refusal


@require_safe
def front_door(request: HttpRequest) -> HttpResponse:
    """Sends everybody to where their day begins."""
    if not request.user.is_authenticated:
        return redirect("accounts:sign_in")
    if signed_in(request).role == Role.TECHNICIAN:
        return redirect("checkups:my_round")
    return redirect("office:today")


@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Signs one of the staff in and goes on to where they wanted to be."""
    form = SignInForm(request, data=request.POST or None)
    if request.method == "POST" and form.is_valid():
        login(request, form.get_user())
        wanted = request.GET.get("next", "")
        safe = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
        return redirect(wanted if safe else "accounts:front_door")
    return render(request, "accounts/sign_in.html", {"form": form})


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Ends the session."""
    logout(request)
    return redirect("accounts:sign_in")


@never_cache
@require_http_methods(["GET", "POST"])
def forgotten(request: HttpRequest) -> HttpResponse:
    """Sends a link to set a new password; the answer is the same for known addresses and unknown ones."""
    form = ForgottenForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        actions.forgot_password(email=form.cleaned_data["email"], at=clock.now())
        return _secret(render(request, "accounts/link_sent.html"))
    return _secret(render(request, "accounts/forgotten.html", {"form": form}))


@never_cache
@require_http_methods(["GET", "POST"])
def new_password(request: HttpRequest, user_id: int, token: str) -> HttpResponse:
    """The page of a link: asks for the new password, sets it once, and leads to the sign-in."""
    person = whose_link(user_id=user_id, token=token, at=clock.now())
    if person is None:
        return _link_closed(request)
    form = NewPasswordForm(request.POST or None, person=person)
    if request.method == "POST" and form.is_valid():
        password = form.cleaned_data["password"]
        try:
            actions.set_password_by_link(user_id=user_id, token=token, password=password, at=clock.now())
        except LinkClosed:
            return _link_closed(request)
        messages.success(request, "Your new password is set. Sign in with it now, here and on your other devices.")
        return _secret(redirect("accounts:sign_in"))
    return _secret(render(request, "accounts/new_password.html", {"form": form, "person": person}))


def _link_closed(request: HttpRequest) -> HttpResponse:
    return _secret(render(request, "accounts/link_closed.html", {"form": ForgottenForm()}, status=410))


def _secret(response: HttpResponse) -> HttpResponse:
    """A page whose address is a secret: no other site learns it, and no search engine lists it.

    Not "no-referrer": with that a browser posts the page's form from the origin "null", which the check against
    forged requests refuses.
    """
    response["Referrer-Policy"] = "same-origin"
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response


@require_safe
@staff_only(Role.MANAGER)
def staff(request: HttpRequest) -> HttpResponse:
    """Everybody who can sign in."""
    return render(request, "accounts/staff.html", {"people": User.objects.order_by("-is_active", "role", "name")})


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def add_staff(request: HttpRequest) -> HttpResponse:
    """Adds one of the staff."""
    form = AddStaffForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            added = actions.add_staff(by=signed_in(request).actor, at=clock.now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, f"{added.name} can sign in now.")
            return redirect("accounts:staff")
    return render(request, "accounts/staff_form.html", {"form": form, "title": "Add to the staff"})


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def change_staff(request: HttpRequest, user_id: int) -> HttpResponse:
    """Changes one of the staff."""
    person = User.objects.filter(pk=user_id).first()
    if person is None:
        raise Http404
    initial = {"name": person.name, "phone": person.phone, "role": person.role, "is_active": person.is_active}
    form = ChangeStaffForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            actions.change_staff(user_id=user_id, by=signed_in(request).actor, at=clock.now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, "Saved.")
            return redirect("accounts:staff")
    return render(request, "accounts/staff_form.html", {"form": form, "title": person.name, "person": person})


@require_POST
@staff_only(Role.MANAGER)
def send_password_link(request: HttpRequest, user_id: int) -> HttpResponse:
    """Sends one of the staff a link to set a new password."""
    person = User.objects.filter(pk=user_id).first()
    if person is None:
        raise Http404
    try:
        actions.ask_password_link(user_id=user_id, by=signed_in(request).actor, at=clock.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"A link to set a new password is on its way to {person.email}. It lasts an hour.")
    return redirect("accounts:change_staff", user_id=user_id)


@require_http_methods(["GET", "POST"])
@staff_only(Role.MANAGER)
def company(request: HttpRequest) -> HttpResponse:
    """Who the contractor is."""
    form = CompanyForm(request.POST or None, instance=the_company())
    if request.method == "POST" and form.is_valid():
        actions.describe_company(by=signed_in(request).actor, at=clock.now(), **form.cleaned_data)
        messages.success(request, "Saved.")
        return redirect("office:setup")
    return render(request, "accounts/company.html", {"form": form})


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """The same page for what is missing and for what is not yours to see."""
    return render(request, "not_found.html", status=404)


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Another role's page."""
    return render(request, "not_allowed.html", status=403)


def something_broke(request: HttpRequest) -> HttpResponse:
    """Our own mistake: the page makes no query, because the database may be what broke."""
    return HttpResponse(
        "Something went wrong on our side and has been logged. Nothing you had saved is lost. Please try again.",
        status=500,
        content_type="text/plain; charset=utf-8",
    )
