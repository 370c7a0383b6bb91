from django.urls import URLPattern

app_name = "properties"
urlpatterns: list[URLPattern] = []
