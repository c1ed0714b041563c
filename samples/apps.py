from django.apps import AppConfig


class SamplesConfig(AppConfig):
    name = "samples"
    default_auto_field = "django.db.models.BigAutoField"
