from django.urls import path

from contractor.accounts import views

app_name = "accounts"
urlpatterns = [
    path("", views.front_door, name="front_door"),
    path("sign-in/", views.sign_in, name="sign_in"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("password/forgotten/", views.forgotten, name="forgotten"),
    path("password/new/<int:user_id>/<str:token>/", views.new_password, name="new_password"),
    path("staff/", views.staff, name="staff"),
    path("staff/add/", views.add_staff, name="add_staff"),
    path("staff/<int:user_id>/", views.change_staff, name="change_staff"),
    path("staff/<int:user_id>/password-link/", views.send_password_link, name="send_password_link"),
    path("company/", views.company, name="company"),
]
