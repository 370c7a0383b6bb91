from django.urls import path

from contractor.estimates import views

app_name = "estimates"
urlpatterns = [
    path("", views.to_replace, name="to_replace"),
    path("<int:component_id>/", views.why, name="why"),
]
