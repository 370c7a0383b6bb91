from datetime import date

from django.urls import path, register_converter

from contractor.visits import calendar_views, owner_views, views, working_views
from contractor.visits.board import round_views
from contractor.visits.board import views as board_views


class DayConverter:
    """A day in an address, written 2026-05-14."""

    regex = "[0-9]{4}-[0-9]{2}-[0-9]{2}"

    def to_python(self, value: str) -> date:
        return date.fromisoformat(value)

    def to_url(self, value: date) -> str:
        return value.isoformat()


register_converter(DayConverter, "day")

app_name = "visits"
urlpatterns = [
    path("rounds/", views.rounds, name="rounds"),
    path("rounds/<int:technician_id>/<day:day>/", views.round_day, name="round_day"),
    path("rounds/<int:technician_id>/<day:day>/order/", views.put_in_order, name="put_in_order"),
    path("rounds/<int:technician_id>/<day:day>/sheet/", round_views.sheet, name="round_sheet"),
    path("loads/", round_views.load_list, name="load_list"),
    path("my-week/", round_views.my_week, name="my_week"),
    path("board/", board_views.board, name="board"),
    path("board/plan/", board_views.plan_stretch, name="plan_stretch"),
    path("board/something-came-up/", board_views.upset, name="upset"),
    path("board/<int:draft_id>/", board_views.draft, name="draft"),
    path("board/<int:draft_id>/progress/", board_views.progress, name="draft_progress"),
    path("board/<int:draft_id>/again/", board_views.retry, name="draft_retry"),
    path("board/<int:draft_id>/visits/<int:request_id>/", board_views.card, name="draft_card"),
    path("board/<int:draft_id>/move/", board_views.move, name="draft_move"),
    path("board/<int:draft_id>/lock/", board_views.lock, name="draft_lock"),
    path("board/<int:draft_id>/step/", board_views.step, name="draft_step"),
    path("board/<int:draft_id>/up-to-date/", board_views.update, name="draft_update"),
    path("board/<int:draft_id>/drop/", board_views.drop, name="draft_drop"),
    path("board/<int:draft_id>/review/", board_views.review, name="draft_review"),
    path("board/<int:draft_id>/accept/", board_views.accept, name="draft_accept"),
    path("requests/<int:request_id>/give/", views.give, name="give"),
    path("requests/<int:request_id>/withdraw/", views.withdraw, name="withdraw"),
    path("requests/<int:request_id>/own-trip/", views.own_trip, name="own_trip"),
    path("appointments/<int:appointment_id>/move/", views.move, name="move"),
    path("appointments/<int:appointment_id>/confirm/", views.confirm, name="confirm"),
    path("appointments/<int:appointment_id>/cancel/", views.cancel, name="cancel"),
    path("appointments/<int:appointment_id>/could-not/", views.could_not, name="could_not"),
    path("appointments/<int:appointment_id>/on-the-way/", owner_views.on_the_way, name="on_the_way"),
    path("wishes/", owner_views.wishes, name="wishes"),
    path("wishes/<int:wish_id>/settled/", owner_views.settle_wish, name="settle_wish"),
    path("calendar/", calendar_views.my_calendar, name="my_calendar"),
    path("calendar/<int:feed_id>/shut/", calendar_views.revoke_feed, name="revoke_feed"),
    path("calendar/<str:token>.ics", calendar_views.calendar, name="feed"),
    path("ask/", views.ask_where, name="ask_where"),
    path("ask/<int:system_id>/", views.ask, name="ask"),
    path("technicians/", working_views.technicians, name="technicians"),
    path("technicians/<int:technician_id>/", working_views.working_days, name="working_days"),
    path("technicians/<int:technician_id>/week/", working_views.usual_week, name="usual_week"),
    path("technicians/<int:technician_id>/leave/", working_views.add_leave, name="add_leave"),
    path("technicians/<int:technician_id>/day/", working_views.add_own_day, name="add_own_day"),
    path("leave/<int:leave_id>/take-back/", working_views.take_back_leave, name="take_back_leave"),
    path("own-day/<int:own_day_id>/clear/", working_views.clear_own_day, name="clear_own_day"),
    path("calendar/<int:year>/", working_views.calendar, name="calendar"),
    path("calendar/<int:year>/clear/", working_views.clear_company_day, name="clear_company_day"),
]
