from django.urls import path

from labsite.accounts.views import own_account, people, signing

app_name = "accounts"

urlpatterns = [
    path("sign-in/", signing.SignInView.as_view(), name="sign-in"),
    path("sign-in/demo/", signing.DemoSignInView.as_view(), name="demo-sign-in"),
    path("sign-out/", signing.SignOutView.as_view(), name="sign-out"),
    path("account/", own_account.AccountView.as_view(), name="account"),
    path("account/password/", signing.PasswordView.as_view(), name="password"),
    path(
        "account/end-sessions/",
        own_account.EndOwnSessionsView.as_view(),
        name="end-own-sessions",
    ),
    path("account/tokens/", own_account.TokensView.as_view(), name="tokens"),
    path(
        "account/tokens/<uuid:pk>/revoke/",
        own_account.RevokeTokenView.as_view(),
        name="revoke-token",
    ),
    path("roles/", own_account.RolesView.as_view(), name="roles"),
    path("people/", people.PeopleView.as_view(), name="people"),
    path("people/add/", people.AddPersonView.as_view(), name="add-person"),
    path("people/<uuid:pk>/", people.PersonPage.as_view(), name="person"),
    path("people/<uuid:pk>/close/", people.ClosePersonView.as_view(), name="close-person"),
    path("people/<uuid:pk>/reopen/", people.ReopenPersonView.as_view(), name="reopen-person"),
    path(
        "people/<uuid:pk>/reset-password/",
        people.ResetPasswordView.as_view(),
        name="reset-password",
    ),
    path("people/<uuid:pk>/end-sessions/", people.EndSessionsView.as_view(), name="end-sessions"),
]
