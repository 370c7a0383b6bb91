from django.apps import AppConfig


class NoticesConfig(AppConfig):
    name = "contractor.notices"

    def ready(self) -> None:
        from contractor.celery import start
        from contractor.core import renewal
        from contractor.notices import personal_links

        personal_links.make_by("your-house", "contractor.notices.actions.house_link")
        personal_links.make_by("no-offers", "contractor.notices.no_offers.no_offers_link")
        renewal.follow(
            "notices",
            lambda property_id: start("contractor.notices.tasks.withdraw_for_former_owners", property_id=property_id),
        )
