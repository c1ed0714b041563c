from django.apps import AppConfig


class ColumnsConfig(AppConfig):
    name = "columns"
    default_auto_field = "django.db.models.BigAutoField"
