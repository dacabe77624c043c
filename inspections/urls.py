"""Addresses of the crew's pages, and of the page of any action."""

from __future__ import annotations

from django.urls import path

from inspections.pages import doing, equipment, flaws, importing, runs, sheets

urlpatterns = [
    path("do/<str:action>/<uuid:pk>/", doing.do, name="do"),
    path("coatings/<uuid:pk>/take-sheet/", sheets.take_sheet, name="take_sheet"),
    path("coatings/<uuid:pk>/import/", importing.import_sheet, name="import_sheet"),
    path("specifications/<uuid:pk>/", equipment.specification, name="specification"),
    path("evidence/<uuid:pk>/", equipment.evidence_file, name="evidence"),
    path("organisations/<uuid:pk>/instruments/", equipment.instruments, name="instruments"),
    path("sheets/<uuid:pk>/", sheets.sheet_page, name="sheet"),
    path("sheets/<uuid:pk>/open-run/", runs.open_run, name="open_run"),
    path("runs/<uuid:pk>/", runs.run_page, name="run"),
    path("runs/<uuid:pk>/check/", runs.check, name="check"),
    path("runs/<uuid:pk>/flaw/", flaws.report, name="report_flaw"),
    path("flaws/<uuid:pk>/", flaws.flaw_page, name="flaw"),
    path("zones/<uuid:pk>/place/", flaws.place_words, name="place_words"),
    path("flaws/<uuid:pk>/tag/", flaws.tag, name="flaw_tag"),
]
