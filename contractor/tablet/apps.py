from django.apps import AppConfig


class TabletConfig(AppConfig):
    name = "contractor.tablet"
