from django.urls import path

from contractor.estimates import climate_views, views

app_name = "estimates"
urlpatterns = [
    path("climate/", climate_views.climate, name="climate"),
    path("climate/add/", climate_views.climate_add, name="climate_add"),
    path("climate/<int:climate_id>/", climate_views.climate_change, name="climate_change"),
    path("", views.to_replace, name="to_replace"),
    path("<int:component_id>/", views.why, name="why"),
    path("systems/<int:system_id>/", views.system, name="system"),
    path("systems/<int:system_id>/what-if/", views.what_if, name="what_if"),
    path("systems/<int:system_id>/recommendation.pdf", views.recommendation, name="recommendation"),
]
