from datetime import date

from django.urls import path, register_converter

from contractor.visits import calendar_views, owner_views, views


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
    path("calendar/<str:token>.ics", calendar_views.calendar, name="calendar"),
    path("ask/<int:system_id>/", views.ask, name="ask"),
]
