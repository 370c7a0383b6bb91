from django.urls import URLPattern

app_name = "warranties"
urlpatterns: list[URLPattern] = []
