from django.urls import path

from labsite.audit.api import views

urlpatterns = [
    path("history/", views.HistoryView.as_view(), name="api-history"),
    path("history/verification/", views.VerificationView.as_view(), name="api-verification"),
    path("history/digests/", views.DigestsView.as_view(), name="api-digests"),
]
