from django.urls import path

from contractor.systems import as_built_views, views

app_name = "systems"
urlpatterns = [
    path("install/<int:property_id>/", views.install, name="install"),
    path("<int:system_id>/parts/add/", views.component_add, name="component_add"),
    path("<int:system_id>/walls/add/", views.wall_add, name="wall_add"),
    path("<int:system_id>/as-built/", as_built_views.as_built, name="as_built"),
    path("parts/<int:component_id>/", views.component, name="component"),
    path("parts/<int:component_id>/replace/", views.replace, name="replace"),
    path("parts/<int:component_id>/retire/", views.retire, name="retire"),
    path("parts/<int:component_id>/correct/", views.correct, name="correct"),
    path("catalogue/", views.catalogue, name="catalogue"),
    path("catalogue/add/", views.catalogue_add, name="catalogue_add"),
]
