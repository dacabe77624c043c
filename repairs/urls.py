"""Addresses of the pages that read across apps."""

from __future__ import annotations

from django.urls import path

from repairs import trace_subjects
from repairs.pages import (
    air,
    assets,
    board,
    correcting,
    dossier,
    guide,
    offers,
    patches,
    taking,
    thickness,
    today,
    trace,
    zones,
)

__all__ = ["offers", "urlpatterns"]

urlpatterns = [
    path("today/", today.today, name="today"),
    path("guide/", guide.guides, name="guides"),
    path("guide/<slug:role>/", guide.guide, name="guide"),
    path("board/", board.board_page, name="board"),
    path("board/<uuid:pk>/", board.board_page, name="board_asset"),
    path("assets/", assets.assets_page, name="assets"),
    path("assets/<uuid:pk>/", assets.asset_page, name="asset"),
    path("assets/<uuid:pk>/stationing/", correcting.set_stationing, name="set_stationing"),
    path("assets/<uuid:pk>/record/", assets.record_page, name="record"),
    path("assets/<uuid:pk>/set-aside/", assets.set_aside_page, name="set_aside"),
    path("zones/<uuid:pk>/", zones.zone_page, name="zone"),
    path("zones/<uuid:pk>/correct/", correcting.correct_surface, name="correct_surface"),
    path("zones/<uuid:pk>/drawing/", zones.zone_drawing, name="zone_drawing"),
    path("zones/<uuid:pk>/air/", air.air_page, name="air"),
    path("zones/<uuid:pk>/thickness/", thickness.thickness_page, name="thickness"),
    path("zones/<uuid:pk>/thickness/drawing/", thickness.thickness_drawing, name="thickness_drawing"),
    path("zones/<uuid:pk>/gates/", zones.gates_page, name="gates"),
    path("zones/<uuid:pk>/figures/", zones.figures_page, name="figures"),
    path("zones/<uuid:pk>/dossier.pdf", dossier.dossier, name="dossier"),
    path("zones/<uuid:pk>/patches/", patches.work_pack, name="work_pack"),
    path("assets/<uuid:pk>/document.pdf", dossier.asset_document, name="asset_document"),
    path("assets/<uuid:pk>/take/", taking.take_asset, name="take_asset"),
    path("assets/<uuid:pk>/take/file/", taking.asset_file, name="asset_file"),
    path("zones/<uuid:pk>/take/", taking.take_zone, name="take_zone"),
    path("zones/<uuid:pk>/take/file/", taking.zone_file, name="zone_file"),
    path("sheets/<uuid:pk>/file/", taking.sheet_file, name="sheet_file"),
    path("patches/<uuid:pk>/", patches.patch_page, name="patch"),
    *(
        path(f"trace/{kind}/<uuid:pk>/", trace.trace_page, {"kind": kind}, name=f"trace_{kind}")
        for kind in trace_subjects.MODELS
    ),
]
