from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "labsite.accounts"
    label = "accounts"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from labsite.accounts.masking import hide_in_history

        hide_in_history()
