"""Pages of the board: the book of a stretch, drafts being planned and worked on, and what accepting them does."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect

from contractor.accounts.access import DESK, signed_in, staff_only
from contractor.core import clock
from contractor.core.errors import Refusal
from contractor.visits.board import pages, queries
from contractor.visits.board.actions import accepting, drafts, steps, upsets
from contractor.visits.board.cards import card_page
from contractor.visits.board.errors import MustBeConfirmed
from contractor.visits.board.forms import OFF, MoveForm, StretchForm, UpsetForm, budget_of
from contractor.visits.board.outcomes import TOLD
from contractor.visits.board.rules import Move
from contractor.visits.models import Draft

FIRST_YEAR, LAST_YEAR = 1950, 2200
LONGEST_NUMBER = 6
MONTH = 5
ANYBODY = "any"
NOTES = {"away": "Called away", "van": "The van is broken", "snow": "Snow"}


@require_safe
@staff_only(*DESK)
def board(request: HttpRequest) -> HttpResponse:
    """What stands for a week, for two, or for a month week by week, to look at and to plan from."""
    weeks = {"2": 2, "5": 5}.get(request.GET.get("weeks", ""), 1)
    today = clock.today()
    first_on, last_on = pages.stretch_around(_day(request.GET.get("week")) or pages.week_to_plan(today), weeks)
    page = pages.book_page(
        first_on, last_on, map_day=_day(request.GET.get("day")), show=_day(request.GET.get("show"))
    )
    context = {
        "page": page,
        "first_on": first_on,
        "last_on": last_on,
        "weeks": weeks,
        "before": first_on - (pages.WEEK if weeks < MONTH else weeks * pages.WEEK),
        "after": first_on + (pages.WEEK if weeks < MONTH else weeks * pages.WEEK),
        "stretch": f"week={first_on.isoformat()}&weeks={weeks}&",
        "today": today,
        "open_drafts": queries.open_drafts(first_on, last_on),
        "form": StretchForm(initial={"first_on": max(first_on, today), "weeks": weeks, "effort": "usual"}),
        "address": reverse("visits:board"),
        "is_past": last_on < today,
    }
    return render(request, "visits/board.html", context)


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def plan_stretch(request: HttpRequest) -> HttpResponse:
    """Begins a draft for a stretch: searched for in the background, or arranged by hand."""
    form = StretchForm(
        request.POST if request.method == "POST" else None,
        initial={"first_on": pages.week_to_plan(clock.today()), "weeks": 1, "effort": "usual"},
    )
    if request.method == "POST" and form.is_valid():
        first_on, last_on = pages.stretch_around(form.cleaned_data["first_on"], form.cleaned_data["weeks"])
        try:
            draft = drafts.start_draft(
                first_on=max(first_on, form.cleaned_data["first_on"]),
                last_on=last_on,
                by_user=signed_in(request),
                at=clock.now(),
                **budget_of(form.cleaned_data["effort"], form.cleaned_data["weeks"]),
            )
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            return redirect("visits:draft", draft_id=draft.pk)
    return render(request, "visits/board_plan.html", {"form": form, "drafts": queries.drafts_to_see()[:12]})


@require_safe
@staff_only(*DESK)
def draft(request: HttpRequest, draft_id: int) -> HttpResponse:
    """One draft: its progress while it is planned, then the board to work on."""
    found = _draft(draft_id)
    if found.state == Draft.State.PLANNING:
        return render(request, "visits/board_planning.html", _progress_context(found))
    if found.state != Draft.State.READY:
        return render(request, "visits/board_closed.html", {"draft": found})
    context = _board_context(found, _day(request.GET.get("day")), _day(request.GET.get("show")))
    return render(request, "visits/board_draft.html", context)


@require_safe
@staff_only(*DESK)
def progress(request: HttpRequest, draft_id: int) -> HttpResponse:
    """How far the search has come; leads to the board once it is there."""
    found = _draft(draft_id)
    if found.state != Draft.State.PLANNING:
        address = reverse("visits:draft", args=[draft_id])
        return HttpResponseClientRedirect(address) if request.htmx else redirect(address)  # type: ignore[attr-defined]
    return render(request, "visits/board_progress.html", _progress_context(found))


@require_POST
@staff_only(*DESK)
def retry(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Begins a search again that nothing was heard of."""
    _draft(draft_id)
    try:
        drafts.retry_draft(draft_id=draft_id, by_user=signed_in(request), at=clock.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    return redirect("visits:draft", draft_id=draft_id)


def _progress_context(found: Draft) -> dict[str, Any]:
    return {
        "draft": found,
        "is_silent": queries.is_silent(found, at=clock.now()),
        "until": _day(found.progress.get("until")),
    }


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def card(request: HttpRequest, draft_id: int, request_id: int) -> HttpResponse:
    """One visit of a draft: where it could stand, with what it would cost; and moving it without a mouse or script."""
    found = _ready(draft_id)
    page = card_page(found, f"{queries.PREFIX}{request_id}")
    if page is None:
        raise Http404
    form = MoveForm(request.POST or None, places=page.places, initial={"where": page.where})
    questions: tuple[str, ...] = ()
    if request.method == "POST" and form.is_valid():
        move = _move(page.job, form.cleaned_data["where"], form.cleaned_data["place"])
        try:
            said = _do_move(request, found, move)
        except MustBeConfirmed as asks:
            questions = asks.questions
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, said)
            show = move.day or _day(page.where.partition("/")[2])
            return redirect(f"{reverse('visits:draft', args=[draft_id])}{f'?show={show.isoformat()}' if show else ''}")
    context = {"draft": found, "page": page, "form": form, "questions": questions}
    return render(request, "visits/board_card.html", context)


@require_POST
@staff_only(*DESK)
def move(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Puts a card elsewhere, as it was dropped; the answer is the board as it stands then, with a sentence."""
    found = _ready(draft_id)
    place = _number(request.POST.get("place", ""))
    wanted = _move(request.POST.get("job", ""), request.POST.get("where", ""), place)
    try:
        said = _do_move(request, found, wanted)
    except MustBeConfirmed as asks:
        return _answer(request, draft_id, questions=asks.questions, asked=request.POST)
    except Refusal as refusal:
        return _answer(request, draft_id, refused=refusal.sentence)
    return _answer(request, draft_id, said=said)


@require_POST
@staff_only(*DESK)
def lock(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Locks a card where it stands, or unlocks it."""
    _ready(draft_id)
    try:
        said = steps.lock_on_board(
            draft_id=draft_id,
            job=request.POST.get("job", ""),
            seen_step=_seen(request),
            by_user=signed_in(request),
            at=clock.now(),
        )
    except Refusal as refusal:
        return _answer(request, draft_id, refused=refusal.sentence)
    return _answer(request, draft_id, said=said)


@require_POST
@staff_only(*DESK)
def step(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Takes the last step back, or does it again."""
    _ready(draft_id)
    action = steps.redo_step if request.POST.get("direction") == "redo" else steps.undo_step
    try:
        said = action(draft_id=draft_id, seen_step=_seen(request), at=clock.now())
    except Refusal as refusal:
        return _answer(request, draft_id, refused=refusal.sentence)
    return _answer(request, draft_id, said=said)


@require_POST
@staff_only(*DESK)
def update(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Brings a draft up to date with a book that has changed."""
    _draft(draft_id)
    said = steps.bring_up_to_date(draft_id=draft_id, by_user=signed_in(request), at=clock.now())
    messages.success(request, said)
    return redirect("visits:draft", draft_id=draft_id)


@require_POST
@staff_only(*DESK)
def drop(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Throws a draft away, or stops its planning."""
    dropped = _draft(draft_id)
    drafts.drop_draft(draft_id=draft_id, by_user=signed_in(request), at=clock.now())
    accepted = bool(dropped.progress.get("accepted"))
    said = "What was accepted of it stands; nothing else has changed." if accepted else "No appointment has changed."
    messages.success(request, f"The draft is dropped. {said}")
    return redirect(f"{reverse('visits:board')}?week={dropped.first_on.isoformat()}")


@require_safe
@staff_only(*DESK)
def review(request: HttpRequest, draft_id: int) -> HttpResponse:
    """What accepting does, the whole draft or one week of it, and who is told what."""
    found = _ready(draft_id)
    week_of = _day(request.GET.get("week"))
    page = pages.review_page(found, week_of=week_of)
    return render(request, "visits/board_review.html", {"draft": found, "page": page, "week_of": week_of})


@require_POST
@staff_only(*DESK)
def accept(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Writes a draft, or one week of it, into the book."""
    found = _draft(draft_id)
    week_of = _day(request.POST.get("week"))
    asked: dict[str, Any] = {"draft_id": draft_id, "by_user": signed_in(request), "at": clock.now()}
    asked["seen_step"] = _seen(request)
    try:
        written = accepting.accept_week(week_of=week_of, **asked) if week_of else accepting.accept_draft(**asked)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
        return redirect("visits:draft", draft_id=draft_id)
    told = sum(outcome.becomes in TOLD for outcome in written)
    messages.success(request, f"Accepted. {told} owner{'s are' if told != 1 else ' is'} told.")
    if _draft(draft_id).state == Draft.State.READY and week_of:
        return redirect(f"{reverse('visits:draft', args=[draft_id])}?show={week_of.isoformat()}")
    return redirect(f"{reverse('visits:board')}?week={(week_of or found.first_on).isoformat()}")


@require_http_methods(["GET", "POST"])
@staff_only(*DESK)
def upset(request: HttpRequest) -> HttpResponse:
    """Something came up: notes it and drafts new places for the visits it upsets."""
    today = clock.today()
    form = UpsetForm(
        request.POST if request.method == "POST" else None,
        initial={"first_on": today},
        towns=queries.towns_with_visits(today, today + 3 * pages.WEEK),
    )
    if request.method == "POST" and form.is_valid():
        try:
            made = _note_upset(request, form)
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            return redirect("visits:draft", draft_id=made.pk)
    return render(request, "visits/board_upset.html", {"form": form})


def _note_upset(request: HttpRequest, form: UpsetForm) -> Draft:
    typed = form.cleaned_data
    because = typed["because"] or NOTES[typed["kind"]]
    who: dict[str, Any] = {"by_user": signed_in(request), "at": clock.now()}
    if typed["kind"] == "snow":
        return upsets.day_closed(on=typed["first_on"], city=typed["city"], because=because, **who)
    return upsets.technician_away(
        technician=typed["technician"],
        first_on=typed["first_on"],
        last_on=form.last_day,
        from_time=typed["from_time"],
        because=because,
        **who,
    )


def _do_move(request: HttpRequest, found: Draft, wanted: Move) -> str:
    return steps.move_on_board(
        draft_id=found.pk,
        move=wanted,
        seen_step=_seen(request),
        is_confirmed=request.POST.get("confirmed") == "yes",
        by_user=signed_in(request),
        at=clock.now(),
    )


def _move(job: str, where: str, place: int | None) -> Move:
    """A place as the page names it: ``3/2026-05-04``, ``any/2026-05-04`` for whomever it costs least, or ``off``;
    nonsense is nowhere, which is refused."""
    technician, _, text = where.partition("/")
    day = _day(text)
    if where == OFF or day is None:
        return Move(job=job if where == OFF else "")
    return Move(job=job, technician=None if technician == ANYBODY else technician, day=day, place=place)


def _answer(
    request: HttpRequest,
    draft_id: int,
    *,
    said: str = "",
    refused: str = "",
    questions: tuple[str, ...] = (),
    asked: Any = None,
) -> HttpResponse:
    """The board as it stands, with a sentence, for a script; a message and the page again without one."""
    if not request.htmx:  # type: ignore[attr-defined]
        if said:
            messages.success(request, said)
        else:
            messages.error(request, refused or " ".join(questions))
        show = _day(request.POST.get("show"))
        return redirect(f"{reverse('visits:draft', args=[draft_id])}{f'?show={show.isoformat()}' if show else ''}")
    context = _board_context(
        _draft(draft_id), _day(request.POST.get("map_day")), _day(request.POST.get("show"))
    )
    context |= {"said": said, "refused": refused, "questions": questions, "asked": asked}
    return render(request, "visits/board_body.html", context)


def _board_context(found: Draft, map_day: date | None, show: date | None) -> dict[str, Any]:
    return {
        "draft": found,
        "page": pages.draft_page(found, map_day=map_day, show=show),
        "today": clock.today(),
        "address": reverse("visits:draft", args=[found.pk]),
        "stretch": "",
    }


def _draft(draft_id: int) -> Draft:
    return get_object_or_404(queries.drafts_to_see(), pk=draft_id)


def _ready(draft_id: int) -> Draft:
    """A draft that has a board: one that was never planned to its end has none."""
    found = _draft(draft_id)
    if not found.book_sha256:
        raise Http404
    return found


def _seen(request: HttpRequest) -> int:
    number = _number(request.POST.get("seen", ""))
    return -1 if number is None else number


def _number(text: str) -> int | None:
    return int(text) if text.isdecimal() and len(text) <= LONGEST_NUMBER else None


def _day(text: str | None) -> date | None:
    """A day in an address, or None when it can't be read or no calendar of ours shows it."""
    try:
        day = parse_date(text or "")
    except ValueError:
        return None
    return day if day and FIRST_YEAR <= day.year <= LAST_YEAR else None
