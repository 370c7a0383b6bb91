from django.urls import URLPattern

app_name = "systems"
urlpatterns: list[URLPattern] = []
