from django.urls import path

from contractor.tablet import views

app_name = "tablet"
urlpatterns = [
    path("", views.shell, name="shell"),
    path("worker.js", views.worker, name="worker"),
    path("api/me", views.me, name="me"),
    path("api/devices", views.devices, name="devices"),
    path("api/pack", views.pack, name="pack"),
    path("api/events", views.events, name="events"),
    path("api/ready", views.ready, name="ready"),
    path("api/photos/<uuid:photo_id>", views.photo, name="photo"),
]
