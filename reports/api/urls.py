from django.urls import path

from reports.search.api import SearchView

urlpatterns = [path("search/", SearchView.as_view(), name="api-search")]
