from django.apps import AppConfig


class WarrantiesConfig(AppConfig):
    name = "contractor.warranties"

    def ready(self) -> None:
        from contractor.celery import start
        from contractor.core import renewal

        renewal.follow(
            "warranty standings",
            lambda property_id: start("contractor.warranties.tasks.refresh_house", property_id=property_id),
        )
