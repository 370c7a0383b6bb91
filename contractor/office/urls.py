from django.urls import path

from contractor.office import import_views, views

app_name = "office"
urlpatterns = [
    path("", views.today, name="today"),
    path("search/", views.search, name="search"),
    path("due/", views.due, name="due"),
    path("houses/", views.houses, name="houses"),
    path("houses/<int:property_id>/", views.house, name="house"),
    path("houses/<int:property_id>/trail/", views.audit, name="audit"),
    path("houses/<int:property_id>/owner-link/", views.send_link, name="send_link"),
    path("import/", import_views.import_register, name="import_register"),
    path("import/template.csv", import_views.import_template, name="import_template"),
    path("import/<uuid:upload_id>/", import_views.import_review, name="import_review"),
    path("import/<uuid:upload_id>/take-over/", import_views.import_take_over, name="import_take_over"),
    path("import/<uuid:upload_id>/forget/", import_views.import_forget, name="import_forget"),
    path("import/<uuid:upload_id>/report.csv", import_views.import_report, name="import_report"),
    path("import/<uuid:upload_id>/to-mend.csv", import_views.import_bad_rows, name="import_bad_rows"),
    path("set-up/", views.setup, name="setup"),
]
