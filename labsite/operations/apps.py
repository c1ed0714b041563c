from django.apps import AppConfig


class OperationsConfig(AppConfig):
    name = "labsite.operations"
    label = "operations"

    def ready(self) -> None:
        # Whoever queues a job, a page or a command, sends it through the one Celery app.
        from labsite import celery, checks  # noqa: F401
