"""Addresses of this app's pages."""

from __future__ import annotations

from django.urls import path

from mapping.pages import tables, zones

urlpatterns = [
    path("assets/<uuid:pk>/add-zone/", zones.add_zone, name="add_zone"),
    path("assets/<uuid:pk>/import-zones/", tables.import_zones, name="import_zones"),
    path("assets/<uuid:pk>/import-features/", tables.import_features, name="import_features"),
    path("assets/<uuid:pk>/import-joints/", tables.import_joints, name="import_joints"),
]
