"""Addresses of lots, specimens, readings and determinations, and of what is drawn."""

from __future__ import annotations

from django.urls import path

from samples.api import (
    bench_views,
    blind_views,
    determination_views,
    grade_views,
    specimen_views,
)

urlpatterns = [
    path("recipes/", grade_views.RecipesView.as_view()),
    path("recipes/<uuid:pk>/", grade_views.RecipeView.as_view()),
    path("recipes/<uuid:pk>/retire/", grade_views.RecipeRetireView.as_view()),
    path("grades/", grade_views.GradesView.as_view()),
    path("grades/<uuid:pk>/", grade_views.GradeView.as_view()),
    path("grades/<uuid:pk>/retire/", grade_views.GradeRetireView.as_view()),
    path("lots/", grade_views.LotsView.as_view()),
    path("lots/<uuid:pk>/", grade_views.LotView.as_view()),
    path("lots/<uuid:pk>/facts/", grade_views.LotFactsView.as_view()),
    path("specimens/", specimen_views.SpecimensView.as_view()),
    path("specimens/take-over/", specimen_views.TakeOverView.as_view()),
    path("specimens/<uuid:pk>/", specimen_views.SpecimenView.as_view()),
    path("specimens/<uuid:pk>/blind-view/", blind_views.BlindViewView.as_view()),
    path("readings/", specimen_views.ReadingsView.as_view()),
    path("readings/<uuid:pk>/", specimen_views.ReadingView.as_view()),
    path("readings/<uuid:pk>/withdraw/", specimen_views.ReadingWithdrawView.as_view()),
    path("readings/<uuid:pk>/amend/", specimen_views.ReadingAmendView.as_view()),
    path("determinations/", determination_views.DeterminationsView.as_view()),
    path("determinations/<uuid:pk>/", determination_views.DeterminationView.as_view()),
    path("determinations/<uuid:pk>/facts/", determination_views.DeterminationFactsView.as_view()),
    path("determinations/<uuid:pk>/ready/", determination_views.DeterminationReadyView.as_view()),
    path(
        "determinations/<uuid:pk>/release/",
        determination_views.DeterminationReleaseView.as_view(),
    ),
    path("determinations/<uuid:pk>/amend/", determination_views.DeterminationAmendView.as_view()),
    path(
        "float-sets/<uuid:pk>/amendment-preview/",
        determination_views.AmendmentPreviewView.as_view(),
    ),
    path("bench/", bench_views.BenchView.as_view()),
    path("columns/<uuid:pk>/overview/", bench_views.ColumnOverviewView.as_view()),
    path("read-queue/", bench_views.ReadQueueView.as_view()),
    path("drop-advice/", bench_views.DropAdviceView.as_view()),
]
