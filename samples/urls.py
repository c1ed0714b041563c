"""Pages of the bench and of the work with lots."""

from __future__ import annotations

from django.urls import path

from samples.views import bench, dropping, grades, lots, reading

app_name = "samples"

urlpatterns = [
    path("", bench.BenchView.as_view(), name="bench"),
    path("wall/", bench.WallView.as_view(), name="wall"),
    path("columns/<uuid:pk>/", bench.ColumnPage.as_view(), name="column"),
    path("drop/", dropping.DropPage.as_view(), name="drop"),
    path("read/", reading.ReadPage.as_view(), name="read"),
    path("read/<uuid:pk>/", reading.ReadPage.as_view(), name="read"),
    path("lots/", lots.LotListPage.as_view(), name="lot-list"),
    path("lots/<uuid:pk>/", lots.LotPage.as_view(), name="lot"),
    path("release/", lots.ReleaseQueuePage.as_view(), name="release"),
    path("grades/", grades.GradeListPage.as_view(), name="grade-list"),
    path("grades/<uuid:pk>/", grades.GradePage.as_view(), name="grade-detail"),
]
