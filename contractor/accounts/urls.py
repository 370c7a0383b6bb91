from django.urls import path

from contractor.accounts import views

app_name = "accounts"
urlpatterns = [
    path("", views.front_door, name="front_door"),
    path("sign-in/", views.sign_in, name="sign_in"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("staff/", views.staff, name="staff"),
    path("staff/add/", views.add_staff, name="add_staff"),
    path("staff/<int:user_id>/", views.change_staff, name="change_staff"),
    path("company/", views.company, name="company"),
]
