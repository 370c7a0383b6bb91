from django.apps import AppConfig


class SystemsConfig(AppConfig):
    name = "contractor.systems"
