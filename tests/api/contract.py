"""The contract of the API, written out: whoever changes a route, an action or its roles has to change it here as well."""

from __future__ import annotations

from typing import NamedTuple

EVERYBODY = "admin contractor crew lead observer owner"


class Contract(NamedTuple):
    """On which collection's rows an action is done, by which roles (a lead may all that crew may), and its kind."""

    collection: str
    roles: str
    decision: bool = False


ACTIONS: dict[str, Contract] = {
    "end_appointment": Contract("appointments", "admin"),
    "add_landmark": Contract("assets", "crew owner"),
    "import_joints": Contract("assets", "lead owner"),
    "import_zones": Contract("assets", "lead owner"),
    "set_stationing": Contract("assets", "lead owner", decision=True),
    "import_features": Contract("assets", "crew owner"),
    "add_zone": Contract("assets", "lead owner"),
    "appoint": Contract("assets", "admin"),
    "draft_specification": Contract("assets", "lead owner"),
    "issue_specification": Contract("assets", "owner", decision=True),
    "amend_draft": Contract("specification_drafts", "lead owner"),
    "issue_draft": Contract("specification_drafts", "owner", decision=True),
    "strike_draft": Contract("specification_drafts", "lead owner"),
    "add_rule": Contract("organisations", "lead owner"),
    "new_rule_version": Contract("voltage_rules", "lead owner"),
    "retire_rule": Contract("voltage_rules", "lead owner"),
    "concede": Contract("coatings", "owner", decision=True),
    "end_coating": Contract("coatings", "owner", decision=True),
    "import_sheet": Contract("coatings", "crew"),
    "issue_patches": Contract("coatings", "lead"),
    "record_atmosphere": Contract("coatings", "contractor crew"),
    "record_disturbance": Contract("coatings", "contractor crew owner"),
    "record_permit": Contract("coatings", "crew"),
    "release_zone": Contract("coatings", "owner", decision=True),
    "take_sheet": Contract("coatings", "crew"),
    "withdraw_release": Contract("coatings", "owner", decision=True),
    "strike_concession": Contract("concessions", "owner", decision=True),
    "strike_disturbance": Contract("disturbances", "contractor crew"),
    "strike_event": Contract("events", "crew"),
    "decide_exclusion": Contract("exclusions", "owner", decision=True),
    "strike_exclusion": Contract("exclusions", "crew owner"),
    "strike_feature": Contract("features", "lead owner"),
    "classify_flaw": Contract("flaws", "crew"),
    "measure_flaw": Contract("flaws", "crew"),
    "same_flaw": Contract("flaws", "crew"),
    "strike_flaw": Contract("flaws", "crew"),
    "register_certificate": Contract("instruments", "lead"),
    "amend_instrument": Contract("instruments", "lead"),
    "retire_instrument": Contract("instruments", "lead"),
    "retire_electrode": Contract("electrodes", "lead"),
    "strike_certificate": Contract("certificates", "lead"),
    "strike_landmark": Contract("landmarks", "lead owner"),
    "appoint_everywhere": Contract("organisations", "admin"),
    "create_asset": Contract("organisations", "admin owner"),
    "create_organisation": Contract("organisations", "admin"),
    "invite_person": Contract("organisations", "admin"),
    "register_electrode": Contract("organisations", "lead"),
    "register_instrument": Contract("organisations", "lead"),
    "abandon_cycle": Contract("patches", "lead"),
    "hand_over": Contract("patches", "contractor"),
    "record_step": Contract("patches", "contractor"),
    "settle_retest": Contract("patches", "contractor crew"),
    "strike_patch": Contract("patches", "lead"),
    "amend_my_language": Contract("people", EVERYBODY),
    "amend_my_units": Contract("people", EVERYBODY),
    "strike_touch_test": Contract("touch_tests", "crew"),
    "touch_concrete": Contract("runs", "contractor crew"),
    "strike_return_proof": Contract("return_proofs", "crew"),
    "close_run": Contract("runs", "contractor crew"),
    "decide_held": Contract("runs", "owner", decision=True),
    "mark_swept": Contract("runs", "contractor crew"),
    "prove_return": Contract("runs", "contractor crew"),
    "reinstate": Contract("runs", "lead", decision=True),
    "report_event": Contract("runs", "contractor crew"),
    "report_flaw": Contract("runs", "contractor crew"),
    "strike_run": Contract("runs", "crew"),
    "sweep_feature": Contract("runs", "contractor crew"),
    "verify": Contract("runs", "contractor crew"),
    "give_up_sheet": Contract("sheets", "lead"),
    "hand_in_sheet": Contract("sheets", "crew"),
    "open_run": Contract("sheets", "contractor crew"),
    "record_spot": Contract("sheets", "crew"),
    "strike_spot": Contract("spots", "crew"),
    "strike_step": Contract("steps", "contractor lead"),
    "answer_speed": Contract("swaths", "lead"),
    "strike_swath": Contract("swaths", "contractor crew"),
    "strike_verification": Contract("verifications", "crew"),
    "begin_coating": Contract("zones", "lead owner"),
    "correct_surface": Contract("zones", "lead owner", decision=True),
    "draw_exclusion": Contract("zones", "crew owner"),
    "add_feature": Contract("zones", "crew owner"),
    "add_seams": Contract("zones", "crew owner"),
}
COLLECTIONS = [
    "appointments", "assets", "atmospheres", "certificates", "classifications", "coatings", "concessions",
    "disturbances", "electrodes", "events", "evidence", "exclusions", "features", "flaws", "instruments",
    "landmarks", "organisations", "patches", "people", "permits", "reinstatements", "releases",
    "return_proofs", "runs", "sheets", "specification_drafts", "specifications", "speed_answers", "spots", "steps",
    "swaths", "touch_tests", "verifications", "voltage_rules", "zones",
]  # fmt: skip
OTHER_READS = {
    "assets/<uuid:pk>/files/csv/": "read_asset_csv",
    "assets/<uuid:pk>/files/geojson/": "read_asset_geojson",
    "assets/<uuid:pk>/files/pdf/": "read_asset_pdf",
    "assets/<uuid:pk>/files/xlsx/": "read_asset_xlsx",
    "board/": "read_board",
    "coatings/<uuid:pk>/gates/": "read_coating_gates",
    "me/": "read_me",
    "records/<uuid:pk>/": "read_record",
    "records/<uuid:pk>/entries/": "list_entries",
    "sheets/<uuid:pk>/files/csv/": "read_sheet_csv",
    "sheets/<uuid:pk>/files/xlsx/": "read_sheet_xlsx",
    "zones/<uuid:pk>/files/csv/": "read_zone_csv",
    "zones/<uuid:pk>/files/geojson/": "read_zone_geojson",
    "zones/<uuid:pk>/files/pdf/": "read_zone_pdf",
    "zones/<uuid:pk>/files/xlsx/": "read_zone_xlsx",
    "zones/<uuid:pk>/picture/": "read_zone_picture",
}
WORKSHEETS = (
    "coverage", "density", "dew-point", "film", "missed", "patches", "position", "settings", "surface", "sweep", "thickness",
    "thickness-plan", "voltage",
)  # fmt: skip
OPEN_TO_ALL = ("", "schema/", "problems/", "worksheets/", *(f"worksheets/{name}/" for name in WORKSHEETS))
