from django.apps import AppConfig


class WarrantiesConfig(AppConfig):
    name = "contractor.warranties"

    def ready(self) -> None:
        from django.db.models.signals import post_migrate

        from contractor.celery import start
        from contractor.core import renewal
        from contractor.notices import personal_links
        from contractor.warranties import signing_checks  # noqa: F401  # registers itself
        from contractor.warranties.frozen_rows import freeze_rows

        post_migrate.connect(freeze_rows, sender=self)

        personal_links.make_by("your-part-of-the-sale", "contractor.warranties.actions.transfer_links.sale_link")
        renewal.follow(
            "warranty standings",
            lambda property_id: start("contractor.warranties.tasks.refresh_house", property_id=property_id),
        )
