from django.urls import path

from reports.search.views import SearchView

app_name = "reports"

urlpatterns = [path("search/", SearchView.as_view(), name="search")]
