from django.apps import AppConfig


class PlansConfig(AppConfig):
    name = "contractor.plans"

    def ready(self) -> None:
        from contractor.celery import start
        from contractor.core import renewal

        renewal.follow(
            "care plans",
            lambda property_id: start("contractor.plans.tasks.follow_house", property_id=property_id),
        )
