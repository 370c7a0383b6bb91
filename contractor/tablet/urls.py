from django.urls import path

from contractor.tablet import office_views, views

app_name = "tablet"
urlpatterns = [
    path("", views.shell, name="shell"),
    path("worker.js", views.worker, name="worker"),
    path("api/me", views.me, name="me"),
    path("api/devices", views.devices, name="devices"),
    path("api/pack", views.pack, name="pack"),
    path("api/events", views.events, name="events"),
    path("api/ready", views.ready, name="ready"),
    path("api/visits/<int:appointment_id>/on-the-way", views.on_the_way, name="on_the_way"),
    path("api/photos/<uuid:photo_id>", views.photo, name="photo"),
    path("office/", office_views.tablets, name="tablets"),
    path("office/devices/<uuid:device_id>/", office_views.device, name="device"),
    path("office/devices/<uuid:device_id>/allow/", office_views.device_allow, name="device_allow"),
    path("office/aside/", office_views.set_aside, name="set_aside"),
    path("office/aside/<int:aside_id>/", office_views.set_aside_one, name="set_aside_one"),
    path("office/visits/<int:appointment_id>/", office_views.visit, name="visit"),
    path("office/visits/<int:appointment_id>/choose/", office_views.choose, name="choose"),
    path("import/", office_views.hand_in_file, name="hand_in_file"),
]
