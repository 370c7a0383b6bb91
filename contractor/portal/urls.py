from django.urls import path

from contractor.portal import views

app_name = "portal"
urlpatterns = [
    path("home/", views.house, name="house"),
    path("home/ask/", views.ask_link, name="ask_link"),
    path("home/leave/", views.leave, name="leave"),
    path("home/link/<str:token>/", views.link, name="link"),
    path("home/check-ups/<int:checkup_id>/report.pdf", views.report, name="report"),
    path("home/warranties/<int:warranty_id>/warranty.pdf", views.warranty_document, name="warranty_document"),
    path("home/certificates/<int:certificate_id>/certificate.pdf", views.certificate, name="certificate"),
    path("home/systems/<int:system_id>/record/", views.outside_record, name="outside_record"),
    path("check/", views.check, name="check"),
    path("check/<str:token>/", views.check_token, name="check_token"),
]
