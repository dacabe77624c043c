"""Pages about people: front, settings, organisations, appointments; and signing in by the sign-in library's views."""

from __future__ import annotations

from allauth.account import views as account
from django.urls import include, path, re_path
from django.views.decorators.http import require_POST
from django.views.i18n import set_language

from accounts import organisation_pages, pages, worksheet_pages

SIGNING_IN = [
    path("login/", account.login, name="account_login"),
    path("logout/", account.logout, name="account_logout"),
    path("inactive/", account.account_inactive, name="account_inactive"),
    path("signup/", account.signup, name="account_signup"),
    path("reauthenticate/", account.reauthenticate, name="account_reauthenticate"),
    path("password/change/", account.password_change, name="account_change_password"),
    path("password/set/", account.password_set, name="account_set_password"),
    path("password/reset/", account.password_reset, name="account_reset_password"),
    path("password/reset/done/", account.password_reset_done, name="account_reset_password_done"),
    path("password/reset/key/done/", account.password_reset_from_key_done, name="account_reset_password_from_key_done"),
    re_path(
        r"^password/reset/key/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
        account.password_reset_from_key,
        name="account_reset_password_from_key",
    ),
    path("2fa/", include("allauth.mfa.urls")),
]

urlpatterns = [
    path("", pages.front, name="front"),
    path("accounts/", include(SIGNING_IN)),
    path("language/", require_POST(set_language), name="set_language"),
    path("contrast/", pages.contrast, name="contrast"),
    path("settings/", pages.own_settings, name="settings"),
    path("settings/units/", pages.own_units, name="own_units"),
    path("settings/language/", pages.own_language, name="own_language"),
    path("settings/tokens/", pages.make_token, name="make_token"),
    path("settings/tokens/<str:digest>/revoke/", pages.revoke_token, name="revoke_token"),
    path("organisations/", organisation_pages.organisations, name="organisations"),
    path("organisations/<uuid:pk>/", organisation_pages.organisation, name="organisation"),
    path("organisations/<uuid:pk>/new/", organisation_pages.create_organisation, name="create_organisation"),
    path("organisations/<uuid:pk>/invite/", organisation_pages.invite_person, name="invite_person"),
    path("organisations/<uuid:pk>/appoint/", organisation_pages.appoint_everywhere, name="appoint_everywhere"),
    path("organisations/<uuid:pk>/assets/new/", organisation_pages.create_asset, name="create_asset"),
    path("organisations/<uuid:pk>/edit/", organisation_pages.amend_organisation, name="amend_organisation"),
    path("assets/<uuid:pk>/edit/", organisation_pages.amend_asset, name="amend_asset"),
    path("people/<uuid:pk>/edit/", organisation_pages.amend_person, name="amend_person"),
    path("people/<uuid:pk>/invite-again/", organisation_pages.invite_again, name="invite_again"),
    path("assets/<uuid:pk>/people/", organisation_pages.asset_people, name="asset_people"),
    path("assets/<uuid:pk>/people/appoint/", organisation_pages.appoint, name="appoint"),
    path("appointments/<uuid:pk>/end/", organisation_pages.end_appointment, name="end_appointment"),
    path("worksheets/", worksheet_pages.worksheets, name="worksheets"),
    path("worksheets/<slug:name>/", worksheet_pages.worksheet, name="worksheet"),
    path("api/v1/problems/", pages.problem_types, name="problem_types"),
]
