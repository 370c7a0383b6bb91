from django.urls import path

from contractor.properties import views

app_name = "properties"
urlpatterns = [
    path("register/", views.register, name="register"),
    path("<int:property_id>/change/", views.change, name="change"),
    path("positions/", views.positions, name="positions"),
    path("<int:property_id>/position/", views.position, name="position"),
    path("<int:property_id>/owner/", views.owner, name="owner"),
    path("<int:property_id>/people/<int:person_id>/", views.change_person, name="change_person"),
    path("<int:property_id>/links/revoke/", views.revoke_links, name="revoke_links"),
]
