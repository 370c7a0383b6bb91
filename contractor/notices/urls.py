from django.urls import path

from contractor.notices import views

app_name = "notices"
urlpatterns = [
    path("", views.log, name="log"),
    path("post/", views.post, name="post"),
    path("post/letters.pdf", views.post_letters, name="post_letters"),
    path("answers/", views.answers, name="answers"),
    path("answers/<int:received_id>/settled/", views.settle_answer, name="settle_answer"),
    path("texts/received/", views.text_received, name="text_received"),
    path("texts/failed/", views.text_failed, name="text_failed"),
    path("<int:notice_id>/", views.notice, name="notice"),
    path("<int:notice_id>/letter.pdf", views.letter, name="letter"),
    path("<int:notice_id>/try-again/", views.try_again, name="try_again"),
    path("<int:notice_id>/posted/", views.posted, name="posted"),
]
