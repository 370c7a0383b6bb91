"""The log of notices, as the office sees it."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.notices import actions, queries
from contractor.notices.letters import letter_pdf
from contractor.notices.models import Notice


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
    return render(request, "notices/notice.html", {"notice": found, "letter": queries.letter_of(found)})


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
