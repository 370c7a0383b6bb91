from django.apps import AppConfig


class EstimatesConfig(AppConfig):
    name = "contractor.estimates"
