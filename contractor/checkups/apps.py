from django.apps import AppConfig


class CheckupsConfig(AppConfig):
    name = "contractor.checkups"
