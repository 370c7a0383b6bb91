"""The log of notices, as the office sees it."""

import json
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.crypto import constant_time_compare
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.core.templatetags.marks import day
from contractor.notices import actions, queries
from contractor.notices.letters import letter_pdf
from contractor.notices.models import Notice, ReceivedText
from contractor.notices.printing import render_together


@require_safe
@staff_only(*DESK)
def log(request: HttpRequest) -> HttpResponse:
    """Every message, newest first; ``?show=`` narrows to one state or to letters that wait to be printed."""
    notices = Notice.objects.select_related("person", "property")
    show = request.GET.get("show", "")
    if show == "letters":
        notices = notices.filter(channel=Notice.Channel.LETTER, state=Notice.State.QUEUED)
    elif show in Notice.State.values:
        notices = notices.filter(state=show)
    page = Paginator(notices, 50).get_page(request.GET.get("page"))
    return render(request, "notices/log.html", {"page": page, "show": show, "states": Notice.State.choices})


@require_safe
@staff_only(*DESK)
def notice(request: HttpRequest, notice_id: int) -> HttpResponse:
    """One message as it was written; a letter can be printed from here."""
    found = get_object_or_404(Notice.objects.select_related("person", "property"), pk=notice_id)
    context = {
        "notice": found,
        "letter": queries.letter_of(found),
        "is_to_former_owner": queries.letters_to_former_owners().filter(pk=notice_id).exists(),
    }
    return render(request, "notices/notice.html", context)


@require_safe
@staff_only(*DESK)
def letter(request: HttpRequest, notice_id: int) -> HttpResponse:
    """A letter to print; only what is sent by post has one."""
    letters = Notice.objects.filter(channel=Notice.Channel.LETTER).select_related("person", "property")
    found = get_object_or_404(letters, pk=notice_id)
    pdf = letter_pdf(found)
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="letter-{found.pk}.pdf"'},
    )


@require_POST
@staff_only(*DESK)
def try_again(request: HttpRequest, notice_id: int) -> HttpResponse:
    """Sends a failed message once more."""
    get_object_or_404(Notice, pk=notice_id)
    actions.try_again(notice_id=notice_id, by=signed_in(request).actor, at=clock.now())
    return redirect("notices:notice", notice_id=notice_id)


@require_POST
@staff_only(*DESK)
def posted(request: HttpRequest, notice_id: int) -> HttpResponse:
    """Notes that a letter went to the post."""
    get_object_or_404(Notice, pk=notice_id)
    actions.mark_letter_sent(notice_id=notice_id, by=signed_in(request).actor, at=clock.now())
    return redirect("notices:notice", notice_id=notice_id)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def post(request: HttpRequest) -> HttpResponse:
    """The day's post: letters that wait; those that stood on the page are marked as posted in one go."""
    if request.method == "POST":
        shown = [int(value) for value in request.POST.getlist("letter") if value.isdecimal()]
        try:
            posted_now = actions.mark_letters_sent(notice_ids=shown, by=signed_in(request).actor, at=clock.now())
        except Refusal as refusal:
            messages.error(request, refusal.sentence)
        else:
            messages.success(request, f"{posted_now} letter{'' if posted_now == 1 else 's'} noted as posted.")
            return redirect("notices:post")
    return render(request, "notices/post.html", {"letters": queries.days_post(at=clock.now())})


@require_safe
@staff_only(*DESK)
def post_letters(request: HttpRequest) -> HttpResponse:
    """The day's post as one PDF for printing on both sides."""
    letters = queries.days_post(at=clock.now())
    if not letters:
        return render(request, "notices/post.html", {"letters": letters})
    contexts = [{"notice": one, "letter": letter} for one, letter in letters]
    pdf = render_together("notices/letter.html", contexts, title=f"Letters to post, {day(clock.today())}")
    return HttpResponse(
        pdf, content_type="application/pdf", headers={"Content-Disposition": 'inline; filename="letters.pdf"'}
    )


@require_safe
@staff_only(*DESK)
def answers(request: HttpRequest) -> HttpResponse:
    """What owners answered to texts in words of their own."""
    return render(request, "notices/answers.html", {"answers": queries.answers_waiting()[:100]})


@require_POST
@staff_only(*DESK)
def settle_answer(request: HttpRequest, received_id: int) -> HttpResponse:
    """Notes that an answer was dealt with."""
    get_object_or_404(ReceivedText, pk=received_id)
    actions.settle_received(received_id=received_id, by=signed_in(request).actor, at=clock.now())
    return redirect("notices:answers")


def _carrier_only(view: Callable[[dict[str, Any]], None]) -> Callable[[HttpRequest], HttpResponse]:
    """A door for the carrier of texts alone: it brings ``TEXT_GATEWAY_WORD`` as a bearer token, and JSON."""

    @csrf_exempt
    @require_POST
    def guarded(request: HttpRequest) -> HttpResponse:
        word = settings.TEXT_GATEWAY_WORD
        if not word or not constant_time_compare(request.headers.get("Authorization", ""), f"Bearer {word}"):
            raise PermissionDenied
        try:
            told = json.loads(request.body)
        except ValueError:
            told = None
        if not isinstance(told, dict):
            return JsonResponse({"sentence": "Send a JSON object."}, status=400)
        view({str(name): str(value) for name, value in told.items()})
        return JsonResponse({})

    return guarded


def _received(told: dict[str, Any]) -> None:
    actions.take_in_text(number=told.get("from", ""), text=told.get("text", ""), at=clock.now())


def _failed(told: dict[str, Any]) -> None:
    number = told.get("reference", "").split("-")[1:2]
    if number and number[0].isdecimal():
        actions.text_failed(notice_id=int(number[0]), because=told.get("reason", ""), at=clock.now())


text_received, text_failed = _carrier_only(_received), _carrier_only(_failed)
