from django.urls import path

from contractor.notices import views

app_name = "notices"
urlpatterns = [
    path("", views.log, name="log"),
    path("<int:notice_id>/", views.notice, name="notice"),
    path("<int:notice_id>/letter.pdf", views.letter, name="letter"),
    path("<int:notice_id>/try-again/", views.try_again, name="try_again"),
    path("<int:notice_id>/posted/", views.posted, name="posted"),
]
