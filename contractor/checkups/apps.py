from django.apps import AppConfig


class CheckupsConfig(AppConfig):
    name = "contractor.checkups"

    def ready(self) -> None:
        from contractor.celery import start
        from contractor.core import renewal

        renewal.follow(
            "repairs asked for",
            lambda property_id: start("contractor.checkups.tasks.ask_for_repairs", property_id=property_id),
        )
