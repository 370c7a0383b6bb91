from django.apps import AppConfig


class CoreConfig(AppConfig):
    name = "contractor.core"

    def ready(self) -> None:
        from contractor.core import checks  # noqa: F401
