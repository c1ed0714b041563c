from django.urls import path

from reports.imports.views import ImportsView
from reports.results.views import ResultPage
from reports.search.views import SearchView

app_name = "reports"

urlpatterns = [
    path("search/", SearchView.as_view(), name="search"),
    path("results/<uuid:pk>/", ResultPage.as_view(), name="result"),
    path("imports/", ImportsView.as_view(), name="imports"),
]
