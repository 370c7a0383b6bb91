from django.urls import URLPattern

app_name = "estimates"
urlpatterns: list[URLPattern] = []
