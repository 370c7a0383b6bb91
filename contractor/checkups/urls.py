from django.urls import URLPattern

app_name = "checkups"
urlpatterns: list[URLPattern] = []
