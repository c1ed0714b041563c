from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class JobsConfig(AppConfig):
    name = "labsite.jobs"
    label = "jobs"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        autodiscover_modules("tasks")  # so that every process knows every kind of job
