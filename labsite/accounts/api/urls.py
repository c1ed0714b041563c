from django.urls import path

from labsite.accounts.api import views

urlpatterns = [
    path("session/", views.SessionView.as_view(), name="api-session"),
    path("people/", views.PeopleView.as_view(), name="api-people"),
    path("people/names/", views.NamesView.as_view(), name="api-people-names"),
    path("people/<uuid:pk>/", views.PersonView.as_view(), name="api-person"),
    path("people/<uuid:pk>/close/", views.CloseView.as_view(), name="api-person-close"),
    path("people/<uuid:pk>/reopen/", views.ReopenView.as_view(), name="api-person-reopen"),
    path(
        "people/<uuid:pk>/reset-password/",
        views.ResetPasswordView.as_view(),
        name="api-person-reset-password",
    ),
    path(
        "people/<uuid:pk>/end-sessions/",
        views.EndSessionsView.as_view(),
        name="api-person-end-sessions",
    ),
    path("tokens/", views.TokensView.as_view(), name="api-tokens"),
    path("tokens/<uuid:pk>/revoke/", views.RevokeTokenView.as_view(), name="api-token-revoke"),
]
