from django.apps import AppConfig


class EstimatesConfig(AppConfig):
    name = "contractor.estimates"

    def ready(self) -> None:
        from contractor.celery import start
        from contractor.core import renewal

        renewal.follow(
            "life estimates",
            lambda property_id: start("contractor.estimates.tasks.refresh_house_estimates", property_id=property_id),
        )
