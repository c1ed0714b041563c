from importlib import import_module

from django.apps import AppConfig


class ReportsConfig(AppConfig):
    name = "reports"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        import_module("reports.audit_actions")  # the history tells them in every process
