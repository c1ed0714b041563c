from django.urls import path

from reports.imports.api import ImportsView, ImportView, PreviewView
from reports.search.api import SearchView

urlpatterns = [
    path("search/", SearchView.as_view(), name="api-search"),
    path("imports/", ImportsView.as_view(), name="api-imports"),
    path("imports/preview/", PreviewView.as_view(), name="api-import-preview"),
    path("imports/<uuid:pk>/", ImportView.as_view(), name="api-import"),
]
