from django.apps import AppConfig


class WarrantiesConfig(AppConfig):
    name = "contractor.warranties"
