from django.apps import AppConfig


class WebConfig(AppConfig):
    name = "labsite.web"
    label = "web"
