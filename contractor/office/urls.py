from django.urls import path

from contractor.office import views

app_name = "office"
urlpatterns = [
    path("", views.today, name="today"),
    path("search/", views.search, name="search"),
    path("due/", views.due, name="due"),
    path("houses/", views.houses, name="houses"),
    path("houses/<int:property_id>/", views.house, name="house"),
    path("houses/<int:property_id>/trail/", views.audit, name="audit"),
    path("houses/<int:property_id>/owner-link/", views.send_link, name="send_link"),
    path("set-up/", views.setup, name="setup"),
]
