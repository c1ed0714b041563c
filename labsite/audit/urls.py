from django.urls import path

from labsite.audit import views

app_name = "audit"

urlpatterns = [
    path("", views.HistoryView.as_view(), name="history"),
    path("verification/", views.VerificationView.as_view(), name="verification"),
    path("<str:object_type>/<uuid:pk>/", views.ObjectHistoryView.as_view(), name="object-history"),
]
