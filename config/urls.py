"""Every address: the only place that knows all apps."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("", include("accounts.urls")),
    path("", include("mapping.urls")),
    path("", include("inspections.urls")),
    path("", include("repairs.urls")),
    path("api/v1/", include("config.api")),
]

handler400 = "accounts.pages.bad_request"
handler403 = "accounts.pages.denied"
handler404 = "accounts.pages.not_there"
handler500 = "accounts.pages.fault"
