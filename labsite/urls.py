"""Every address of the app."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("", include("samples.urls")),
    path("", include("columns.urls")),
    path("", include("reports.urls")),
    path("", include("labsite.accounts.urls")),
    path("history/", include("labsite.audit.urls")),
    path("", include("labsite.web.urls")),
    path("api/v1/", include("labsite.api.urls")),
    path("api/v1/", include("labsite.accounts.api.urls")),
    path("api/v1/", include("labsite.audit.api.urls")),
    path("api/v1/", include("columns.api.urls")),
    path("api/v1/", include("samples.api.urls")),
    path("api/v1/", include("reports.api.urls")),
]

handler400 = "labsite.web.views.bad_request"
handler403 = "labsite.web.views.forbidden"
handler404 = "labsite.web.views.not_found"
handler500 = "labsite.web.views.server_error"
