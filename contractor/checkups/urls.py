from django.urls import path, register_converter
from django.urls.converters import StringConverter

from contractor.checkups import desk_views, repair_views, views


class LineConverter(StringConverter):
    """A line of a check-up in an address: item and component, such as 41-7."""

    regex = "[0-9]{1,12}-[0-9]{1,12}"


register_converter(LineConverter, "line")

app_name = "checkups"
urlpatterns = [
    path("", views.my_round, name="my_round"),
    path("rounds/<int:technician_id>/<day:day>/", views.round_day, name="round_day"),
    path("stops/<int:appointment_id>/begin/", views.begin, name="begin"),
    path("stops/<int:appointment_id>/could-not/", views.could_not, name="could_not"),
    path("stops/<int:appointment_id>/done/", repair_views.done, name="done"),
    path("<int:checkup_id>/", views.checkup, name="checkup"),
    path("<int:checkup_id>/lines/<line:key>/answer/", views.answer, name="answer"),
    path("<int:checkup_id>/lines/<line:key>/photo/", views.photo_add, name="photo_add"),
    path("<int:checkup_id>/lines/<line:key>/finding/", views.finding_add, name="finding_add"),
    path("<int:checkup_id>/parts/<int:component_id>/swap/", views.swap, name="swap"),
    path("<int:checkup_id>/sign/", views.sign, name="sign"),
    path("<int:checkup_id>/finish/", views.finish, name="finish"),
    path("<int:checkup_id>/report.pdf", views.report, name="report"),
    path("photos/<uuid:photo_id>.jpg", views.photo, name="photo"),
    path("findings/<uuid:finding_id>/put-right/", views.finding_close, name="finding_close"),
    path("systems/<int:system_id>/records/", desk_views.outside_records, name="outside_records"),
    path("records/<int:record_id>/decide/", desk_views.decide_record, name="decide_record"),
    path("records/<int:record_id>/document/", desk_views.record_document, name="record_document"),
    path("checklists/items/<int:item_id>/", desk_views.item, name="item"),
    path("checklists/", desk_views.checklists, name="checklists"),
    path("checklists/upload/", desk_views.checklist_upload, name="checklist_upload"),
    path("checklists/<int:checklist_id>/", desk_views.checklist, name="checklist"),
    path("checklists/<int:checklist_id>/edition.json", desk_views.checklist_file, name="checklist_file"),
    path("checklists/<int:checklist_id>/copy/", desk_views.checklist_copy, name="checklist_copy"),
    path("checklists/<int:checklist_id>/publish/", desk_views.checklist_publish, name="checklist_publish"),
]
