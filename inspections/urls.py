"""Addresses of the crew's pages, and of the page of any action."""

from __future__ import annotations

from django.urls import path

from inspections.pages import (
    briefings,
    checking,
    doing,
    equipment,
    flaws,
    importing,
    instrument,
    qualifications,
    questions,
    rules,
    runs,
    sheets,
    specifications,
)

urlpatterns = [
    path("do/<str:action>/<uuid:pk>/", doing.do, name="do"),
    path("coatings/<uuid:pk>/take-sheet/", sheets.take_sheet, name="take_sheet"),
    path("coatings/<uuid:pk>/questions/", questions.questions, name="questions"),
    path("coatings/<uuid:pk>/questions/<str:key>/", questions.question, name="question"),
    path("coatings/<uuid:pk>/import/", importing.import_sheet, name="import_sheet"),
    path("coatings/<uuid:pk>/import/thickness/", importing.import_gauge_file, name="import_gauge_file"),
    path("assets/<uuid:pk>/specifications/", specifications.specifications, name="specifications"),
    path("assets/<uuid:pk>/specifications/new/", specifications.draft_specification, name="draft_specification"),
    path("specifications/<uuid:pk>/", specifications.specification, name="specification"),
    path("specifications/<uuid:pk>/voltage/", specifications.asked_by_thickness, name="asked_by_thickness"),
    path("drafts/<uuid:pk>/", specifications.draft, name="draft"),
    path("drafts/<uuid:pk>/edit/", specifications.amend_draft, name="amend_draft"),
    path("drafts/<uuid:pk>/issue/", specifications.issue_draft, name="issue_draft"),
    path("organisations/<uuid:pk>/rules/", rules.rules, name="rules"),
    path("organisations/<uuid:pk>/rules/new/", rules.add_rule, name="add_rule"),
    path("rules/<uuid:pk>/", rules.rule, name="rule"),
    path("rules/<uuid:pk>/next/", rules.new_rule_version, name="new_rule_version"),
    path("evidence/<uuid:pk>/", equipment.evidence_file, name="evidence"),
    path("organisations/<uuid:pk>/instruments/", equipment.instruments, name="instruments"),
    path("instruments/<uuid:pk>/", instrument.instrument_page, name="instrument"),
    path("instruments/<uuid:pk>/edit/", equipment.amend_instrument, name="amend_instrument"),
    path("people/<uuid:pk>/qualifications/", qualifications.qualifications, name="qualifications"),
    path("organisations/<uuid:pk>/qualifications/", qualifications.of_organisation, name="organisation_qualifications"),
    path("assets/<uuid:pk>/briefings/", briefings.briefings, name="briefings"),
    path("assets/<uuid:pk>/briefings/new/", briefings.hold_briefing, name="hold_briefing"),
    path("briefings/<uuid:pk>/join/", briefings.join_briefing, name="join_briefing"),
    path("sheets/<uuid:pk>/", sheets.sheet_page, name="sheet"),
    path("sheets/<uuid:pk>/open-run/", runs.open_run, name="open_run"),
    path("runs/<uuid:pk>/", runs.run_page, name="run"),
    path("runs/<uuid:pk>/check/", checking.check, name="check"),
    path("runs/<uuid:pk>/flaw/", flaws.report, name="report_flaw"),
    path("flaws/<uuid:pk>/", flaws.flaw_page, name="flaw"),
    path("zones/<uuid:pk>/place/", flaws.place_words, name="place_words"),
    path("flaws/<uuid:pk>/tag/", flaws.tag, name="flaw_tag"),
]
