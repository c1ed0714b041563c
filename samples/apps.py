from django.apps import AppConfig


class SamplesConfig(AppConfig):
    name = "samples"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from samples import receivers  # noqa: F401
        from samples.selectors.blindness import hide_in_history

        hide_in_history()
