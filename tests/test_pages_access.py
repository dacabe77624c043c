"""Every page, every method, everybody: what is answered on one's own rows, on foreign ones, on absent ones.

The table is written out. A page without a line in it fails, and so does a line whose page is gone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from http.cookies import SimpleCookie
from typing import Any, NamedTuple
from urllib.parse import quote

import pytest
from django.db import connection, models, transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from accounts import evidence
from accounts.acting import REGISTRY
from accounts.assets import Asset
from accounts.evidence import Evidence
from accounts.people import Appointment, Organisation, Person, Role
from accounts.tokens import Token
from inspections.briefings import Briefing
from inspections.coatings import Atmosphere, Coating, FieldSheet
from inspections.flaws import Flaw
from inspections.instruments import Certificate, Electrode, Instrument
from inspections.questions import key_of
from inspections.rule_library import VoltageRule
from inspections.runs import Run
from inspections.specifications import Specification, SpecificationDraft
from mapping.zones import Zone
from repairs.work import Patch, Step
from tests.api.conftest import NOWHERE, World, foreign, own, worlds
from tests.api.contract import ACTIONS

pytestmark = pytest.mark.once

__all__ = ["foreign", "own", "worlds"]

EVERYBODY = ("nobody", "observer", "crew", "lead", "contractor", "owner", "admin", "stranger")
# On a row of one's own asset. 302: to the sign-in page (or, for a signed-in person, on to where the page leads);
# 303: done, on to the next page; 403: seen, but somebody else's to do; 404: of another firm; 405: only read;
# 422: asked again, because nothing was typed.
TABLE = """
page                     on             method nobody observer crew lead contractor owner admin stranger
front                    -              GET    200    302      302  302  302        302   302   302
today                    -              GET    302    200      200  200  200        200   200   200
assets                   -              GET    302    200      200  200  200        200   200   200
guides                   -              GET    200    200      200  200  200        200   200   200
guide                    guide          GET    200    200      200  200  200        200   200   200
board                    -              GET    302    200      200  200  200        200   200   200
board_asset              asset          GET    302    200      200  200  200        200   200   404
organisations            -              GET    302    302      302  302  302        302   302   200
settings                 -              GET    302    200      200  200  200        200   200   200
own_units                -              GET    302    200      200  200  200        200   200   200
own_units                -              POST   302    422      422  422  422        422   422   422
own_language             -              GET    302    200      200  200  200        200   200   200
own_language             -              POST   302    422      422  422  422        422   422   422
set_language             -              POST   302    302      302  302  302        302   302   302
make_token               -              GET    302    200      200  200  200        200   200   200
make_token               -              POST   302    302      302  302  302        302   302   302
revoke_token             token          POST   302    303      303  303  303        303   303   303
worksheets               -              GET    200    200      200  200  200        200   200   200
worksheet                worksheet      GET    200    200      200  200  200        200   200   200
worksheet                worksheet      POST   422    422      422  422  422        422   422   422
contrast                 -              POST   303    303      303  303  303        303   303   303
organisation             organisation   GET    302    200      200  200  200        200   200   404
instruments              organisation   GET    302    200      200  200  200        200   200   404
organisation_qualifications organisation GET 302    200      200  200  200        200   200   404
qualifications           person         GET    302    200      200  200  200        200   200   404
briefings                asset          GET    302    200      200  200  200        200   200   404
hold_briefing            asset          GET    302    403      200  200  403        403   403   404
hold_briefing            asset          POST   302    403      422  422  403        403   403   404
join_briefing            briefing       GET    302    403      200  200  200        403   403   404
join_briefing            briefing       POST   302    403      422  422  422        403   403   404
instrument               instrument     GET    302    200      200  200  200        200   200   404
amend_instrument         instrument     GET    302    403      403  200  403        403   403   404
amend_instrument         instrument     POST   302    403      403  422  403        403   403   404
create_organisation      organisation   GET    302    403      403  403  403        403   200   404
create_organisation      organisation   POST   302    403      403  403  403        403   422   404
invite_person            organisation   GET    302    403      403  403  403        403   200   404
invite_person            organisation   POST   302    403      403  403  403        403   422   404
appoint_everywhere       organisation   GET    302    403      403  403  403        403   200   404
appoint_everywhere       organisation   POST   302    403      403  403  403        403   422   404
create_asset             organisation   GET    302    403      403  403  403        200   200   404
create_asset             organisation   POST   302    403      403  403  403        422   422   404
amend_organisation       organisation   GET    302    403      403  403  403        403   200   404
amend_organisation       organisation   POST   302    403      403  403  403        403   422   404
amend_asset              asset          GET    302    403      403  403  403        200   200   404
amend_asset              asset          POST   302    403      403  403  403        422   422   404
amend_person             person         GET    302    403      403  403  403        403   200   404
amend_person             person         POST   302    403      403  403  403        403   422   404
invite_again             person         POST   302    403      403  403  403        403   303   404
asset_people             asset          GET    302    200      200  200  200        200   200   404
appoint                  asset          GET    302    403      403  403  403        403   200   404
appoint                  asset          POST   302    403      403  403  403        403   422   404
end_appointment          appointment    GET    302    403      403  403  403        403   200   404
end_appointment          appointment    POST   302    403      403  403  403        403   303   404
asset                    asset          GET    302    200      200  200  200        200   200   404
add_zone                 asset          GET    302    403      403  200  403        200   403   404
add_zone                 asset          POST   302    403      403  422  403        422   403   404
import_zones             asset          GET    302    403      403  200  403        200   403   404
import_zones             asset          POST   302    403      403  422  403        422   403   404
import_features          asset          GET    302    403      200  200  403        200   403   404
import_features          asset          POST   302    403      422  422  403        422   403   404
set_stationing           asset          GET    302    403      403  200  403        200   403   404
set_stationing           asset          POST   302    403      403  302  403        302   403   404
import_joints            asset          GET    302    403      403  200  403        200   403   404
import_joints            asset          POST   302    403      403  422  403        422   403   404
asset_document           asset          GET    302    200      200  200  200        200   200   404
take_asset               asset          GET    302    200      200  200  200        200   200   404
asset_file               asset          GET    302    200      200  200  200        200   200   404
record                   asset          GET    302    200      200  200  200        200   200   404
set_aside                asset          GET    302    403      403  200  403        403   403   404
set_aside                asset          POST   302    403      403  404  403        403   403   404
evidence                 evidence       GET    302    200      200  200  200        200   200   404
specification            specification  GET    302    200      200  200  200        200   200   404
asked_by_thickness       specification  GET    302    200      200  200  200        200   200   404
specifications           asset          GET    302    200      200  200  200        200   200   404
draft_specification      asset          GET    302    403      403  200  403        200   403   404
draft_specification      asset          POST   302    403      403  422  403        422   403   404
draft                    draft          GET    302    200      200  200  200        200   200   404
amend_draft              draft          GET    302    403      403  200  403        200   403   404
amend_draft              draft          POST   302    403      403  422  403        422   403   404
issue_draft              draft          GET    302    403      403  403  403        200   403   404
issue_draft              draft          POST   302    403      403  403  403        302   403   404
rules                    organisation   GET    302    200      200  200  200        200   200   404
add_rule                 organisation   GET    302    403      403  200  403        200   403   404
add_rule                 organisation   POST   302    403      403  422  403        422   403   404
rule                     rule           GET    302    200      200  200  200        200   200   404
new_rule_version         rule           GET    302    403      403  200  403        200   403   404
new_rule_version         rule           POST   302    403      403  422  403        422   403   404
zone                     zone           GET    302    200      200  200  200        200   200   404
zone_drawing             zone           GET    302    200      200  200  200        200   200   404
place_words              zone           GET    302    400      400  400  400        400   400   404
correct_surface          zone           GET    302    403      403  200  403        200   403   404
correct_surface          zone           POST   302    403      403  302  403        302   403   404
thickness                zone           GET    302    200      200  200  200        200   200   404
thickness_drawing        zone           GET    302    200      200  200  200        200   200   404
gates                    zone           GET    302    200      200  200  200        200   200   404
air                      zone           GET    302    200      200  200  200        200   200   404
figures                  zone           GET    302    200      200  200  200        200   200   404
dossier                  zone           GET    302    200      200  200  200        200   200   404
take_zone                zone           GET    302    200      200  200  200        200   200   404
zone_file                zone           GET    302    200      200  200  200        200   200   404
work_pack                zone           GET    302    200      200  200  200        200   200   404
questions                coating        GET    302    200      200  200  200        200   200   404
question                 question       GET    302    403      200  200  403        403   403   404
question                 question       POST   302    403      422  422  403        403   403   404
take_sheet               coating        POST   302    403      303  303  403        403   403   404
import_gauge_file        coating        GET    302    403      200  200  403        403   403   404
import_gauge_file        coating        POST   302    403      422  422  403        403   403   404
import_sheet             coating        GET    302    403      200  200  403        403   403   404
import_sheet             coating        POST   302    403      422  422  403        403   403   404
sheet                    sheet          GET    302    200      200  200  200        200   200   404
sheet_file               sheet          GET    302    200      200  200  200        200   200   404
open_run                 sheet          GET    302    403      200  200  403        403   403   404
open_run                 sheet          POST   302    403      422  422  403        403   403   404
run                      run            GET    302    200      200  200  200        200   200   404
check                    run            GET    302    403      200  200  403        403   403   404
check                    run            POST   302    403      422  422  403        403   403   404
report_flaw              run            GET    302    403      200  200  403        403   403   404
report_flaw              run            POST   302    403      422  422  403        403   403   404
flaw                     flaw           GET    302    200      200  200  200        200   200   404
flaw_tag                 flaw           GET    302    200      200  200  200        200   200   404
patch                    patch          GET    302    200      200  200  200        200   200   404
trace_instrument         instrument     GET    302    200      200  200  200        200   200   404
trace_electrode          electrode      GET    302    200      200  200  200        200   200   404
trace_certificate        certificate    GET    302    200      200  200  200        200   200   404
trace_batch              step           GET    302    200      200  200  200        200   200   404
trace_person             person         GET    302    200      200  200  200        200   200   404
account_login            -              GET    200    302      302  302  302        302   302   302
account_login            -              POST   200    302      302  302  302        302   302   302
account_logout           -              GET    302    200      200  200  200        200   200   200
account_logout           -              POST   302    302      302  302  302        302   302   302
account_inactive         -              GET    200    200      200  200  200        200   200   200
account_signup           -              GET    200    302      302  302  302        302   302   302
account_signup           -              POST   200    302      302  302  302        302   302   302
account_reauthenticate   -              GET    302    200      200  200  200        200   200   200
account_reauthenticate   -              POST   302    200      200  200  200        200   200   200
account_change_password  -              GET    302    200      200  200  200        200   200   200
account_change_password  -              POST   302    200      200  200  200        200   200   200
account_set_password     -              GET    302    302      302  302  302        302   302   302
account_set_password     -              POST   302    302      302  302  302        302   302   302
account_reset_password   -              GET    200    200      200  200  200        200   200   200
account_reset_password   -              POST   200    200      200  200  200        200   200   200
account_reset_password_done           - GET    200    200      200  200  200        200   200   200
account_reset_password_from_key_done  - GET    200    200      200  200  200        200   200   200
account_reset_password_from_key     key GET    200    200      200  200  200        200   200   200
account_reset_password_from_key     key POST   200    200      200  200  200        200   200   200
mfa_index                -              GET    302    200      200  200  200        200   200   200
mfa_authenticate         -              GET    302    302      302  302  302        302   302   302
mfa_authenticate         -              POST   302    302      302  302  302        302   302   302
mfa_reauthenticate       -              GET    302    302      302  302  302        302   302   302
mfa_reauthenticate       -              POST   302    302      302  302  302        302   302   302
mfa_activate_totp        -              GET    302    302      302  302  302        302   302   302
mfa_activate_totp        -              POST   302    302      302  302  302        302   302   302
mfa_deactivate_totp      -              GET    302    404      404  404  404        404   404   404
mfa_deactivate_totp      -              POST   302    404      404  404  404        404   404   404
mfa_view_recovery_codes  -              GET    302    404      404  404  404        404   404   404
mfa_generate_recovery_codes           - GET    302    302      302  302  302        302   302   302
mfa_generate_recovery_codes           - POST   302    302      302  302  302        302   302   302
mfa_download_recovery_codes           - GET    302    404      404  404  404        404   404   404
"""
ROWS: dict[str, type[models.Model]] = {
    "appointment": Appointment,
    "asset": Asset,
    "certificate": Certificate,
    "coating": Coating,
    "electrode": Electrode,
    "evidence": Evidence,
    "flaw": Flaw,
    "organisation": Organisation,
    "patch": Patch,
    "person": Person,
    "question": Coating,
    "run": Run,
    "sheet": FieldSheet,
    "step": Step,
    "specification": Specification,
    "instrument": Instrument,
    "briefing": Briefing,
    "draft": SpecificationDraft,
    "rule": VoltageRule,
    "zone": Zone,
}
RANDOM_PER_ANSWER = re.compile(r'name="csrfmiddlewaretoken" value="\w+"|[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}')


class Line(NamedTuple):
    page: str
    on: str
    method: str
    expected: dict[str, int]

    def address(self, pk: Any) -> str:
        if self.on == "-":
            return reverse(self.page)
        if self.on == "key":
            return reverse(self.page, kwargs={"uidb36": "1", "key": "no-such-key"})
        if self.on == "worksheet":
            return reverse(self.page, args=["density"])
        if self.on == "guide":
            return reverse(self.page, args=["crew"])
        if self.on == "question":
            return reverse(self.page, args=[pk, question_of(pk)])
        return reverse(self.page, args=[pk])


def question_of(coating: Any) -> str:
    """The question about warm steel at night that each world's last measurement gives rise to."""
    measured = Atmosphere.objects.filter(coating=coating).order_by("-at").values_list("pk", flat=True)[:1]
    return key_of("warm_steel", measured)


def table() -> list[Line]:
    _, *lines = (line.split() for line in TABLE.strip().splitlines())
    return [Line(*line[:3], dict(zip(EVERYBODY, map(int, line[3:]), strict=True))) for line in lines]


def pages() -> dict[str, str]:
    """Every address but those under /api/, as the URLconf writes it, by name."""

    def walk(patterns: list[Any], prefix: str) -> Iterator[tuple[str, str]]:
        for each in patterns:
            here = prefix + str(each.pattern)
            if isinstance(each, URLResolver):
                yield from walk(each.url_patterns, here)
            elif isinstance(each, URLPattern) and not here.startswith("api/"):
                yield each.name or here, here

    return dict(walk(get_resolver().url_patterns, ""))


@pytest.fixture
def clients(own: World, foreign: World) -> dict[str, Client]:
    """Everybody of the table, signed in; each role is held by somebody of its own."""
    everybody = {"stranger": foreign.everything, **{role.value: own.people[role] for role in Role}}
    made = {"nobody": Client()}
    for name, person in everybody.items():
        person.set_password("paper-ink-steel-9")
        person.save()
        made[name] = Client()
        made[name].force_login(person)
    return made


def row_of(line: Line, world: World, who: str) -> Any:
    if line.on in ("-", "key", "worksheet", "guide"):
        return None
    if line.on == "token":
        person = world.everything if who in ("nobody", "stranger") else world.people[Role(who)]
        return Token.objects.create(user=person, name="tablet")[0].digest
    if line.on == "evidence":
        evidence.keep(b"%PDF-1.7")  # its bytes once more, because every test has a folder of its own for files
    return world.rows[ROWS[line.on]].pk  # type: ignore[index]


def ask(client: Client, method: str, address: str) -> Any:
    """The answer; whatever it wrote is taken back, in the browser's cookies too (signing out is one of the pages)."""
    cookies = {name: kept.value for name, kept in client.cookies.items()}
    with transaction.atomic():
        answer = getattr(client, method.lower())(address)
        transaction.set_rollback(True)
    client.cookies = SimpleCookie(cookies)
    return answer


def test_every_page_has_its_lines_in_the_table() -> None:
    assert {line.page for line in table()} | {"do"} == set(pages())


def test_everybody_is_answered_as_the_table_says(own: World, foreign: World, clients: dict[str, Client]) -> None:
    wrong = []
    for line in table():
        for who, status in line.expected.items():
            world = foreign if line.on == "token" and who == "stranger" else own
            answer = ask(clients[who], line.method, line.address(row_of(line, world, who)))
            if answer.status_code != status:
                wrong.append(f"{line.method} {line.page} as {who}: {answer.status_code}, not {status}")
    assert not wrong, "\n".join(wrong)


def test_a_page_that_is_only_read_takes_no_press(own: World, clients: dict[str, Client]) -> None:
    read, pressed = ({line.page for line in table() if line.method == method} for method in ("GET", "POST"))
    ours = [line for line in table() if line.page in read - pressed and not line.page.startswith(("account_", "mfa_"))]
    answered = {line.page: ask(clients["owner"], "POST", line.address(row_of(line, own, "owner"))) for line in ours}
    assert {page: answer.status_code for page, answer in answered.items()} == dict.fromkeys(answered, 405)


def test_a_page_that_is_only_pressed_is_not_read(own: World, clients: dict[str, Client]) -> None:
    read, pressed = ({line.page for line in table() if line.method == method} for method in ("GET", "POST"))
    ours = [line for line in table() if line.page in pressed - read]
    answered = {line.page: ask(clients["admin"], "GET", line.address(row_of(line, own, "admin"))) for line in ours}
    assert {page: answer.status_code for page, answer in answered.items()} == dict.fromkeys(answered, 405)


def test_a_foreign_row_looks_like_an_absent_one(own: World, foreign: World, clients: dict[str, Client]) -> None:
    differ = []
    for line in table():
        if line.on not in ROWS:
            continue
        for who in EVERYBODY[1:-1]:
            there, nowhere = (
                ask(clients[who], line.method, line.address(pk)) for pk in (row_of(line, foreign, who), NOWHERE)
            )
            if (there.status_code, words(there)) != (404, words(nowhere)) or nowhere.status_code != 404:
                differ.append(f"{line.method} {line.page} as {who}: {there.status_code}, {nowhere.status_code}")
    assert not differ, "\n".join(differ)


def words(answer: Any) -> str:
    """The page without what is random in each answer, ids, and its own address."""
    return RANDOM_PER_ANSWER.sub("", answer.content.decode().replace(answer.wsgi_request.path, ""))


def test_somebody_else_s_token_looks_like_an_absent_one(own: World, clients: dict[str, Client]) -> None:
    digest = Token.objects.create(user=own.people[Role.OWNER], name="tablet")[0].digest
    answers = [ask(clients["crew"], "POST", reverse("revoke_token", args=[each])) for each in (digest, "0" * 128)]
    assert [answer.status_code for answer in answers] == [404, 404]
    assert words(answers[0]) == words(answers[1])


def test_signed_out_a_foreign_row_and_an_absent_one_ask_to_sign_in(own: World, clients: dict[str, Client]) -> None:
    for line in table():
        if line.on in ROWS:
            for pk in (row_of(line, own, "nobody"), NOWHERE):
                address = line.address(pk)
                answer = ask(clients["nobody"], line.method, address)
                assert answer["Location"] == f"/accounts/login/?next={quote(address)}", line


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_every_action_has_a_page_for_exactly_those_who_may_do_it(
    own: World, clients: dict[str, Client], method: str
) -> None:
    wrong = []
    for name, contract in ACTIONS.items():
        allowed = set(contract.roles.split()) | ({"lead"} if "crew" in contract.roles.split() else set())
        for who in EVERYBODY:
            answer = ask(clients[who], method, reverse("do", args=[name, _target(name, own, who)]))
            wanted = (
                (302,)
                if who == "nobody"
                else (404,)
                if who == "stranger"
                else (403,)
                if who not in allowed
                else (200,)
                if method == "GET"
                # Done, or asked again with what is wrong; a decision first asks who it is.
                else (302,)
                if contract.decision
                else (303, 422)
            )
            if answer.status_code not in wanted and not _by_the_row(answer):
                wrong.append(f"{name} as {who}: {answer.status_code}, not {wanted}")
    assert not wrong, "\n".join(wrong)


def _by_the_row(answer: Any) -> bool:
    """Refused for this row though the role would do: a patch of another contractor, somebody else's run or step."""
    return answer.status_code == 403 and "&quot; is done by: " not in answer.content.decode()


def _target(name: str, world: World, who: str) -> Any:
    if name in ("amend_my_units", "amend_my_language"):
        return world.people[Role(who)].pk if who in set(Role) else world.everything.pk
    return world.rows[REGISTRY[name].on].pk


def test_the_page_of_an_action_on_a_foreign_row_looks_like_one_on_an_absent_row(
    own: World, foreign: World, clients: dict[str, Client]
) -> None:
    for name in ACTIONS:
        for who in EVERYBODY[1:-1]:
            there, nowhere = (
                ask(clients[who], "POST", reverse("do", args=[name, pk]))
                for pk in (_target(name, foreign, "stranger"), NOWHERE)
            )
            assert (there.status_code, nowhere.status_code) == (404, 404), (name, who)
            assert words(there) == words(nowhere), (name, who)


def test_there_is_no_page_of_an_action_that_is_not_registered(own: World, clients: dict[str, Client]) -> None:
    assert clients["owner"].get(reverse("do", args=["no_such_action", own.scene.zone.pk])).status_code == 404


def test_reading_writes_nothing_but_the_boards_tallies(own: World, clients: dict[str, Client]) -> None:
    def only_read(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        wrote = re.match(r"(INSERT|UPDATE|DELETE|REPLACE)\b(?!.*(django_session|INTO .repairs_tally))", sql)
        assert wrote is None, sql
        return execute(sql, params, many, context)

    with connection.execute_wrapper(only_read):
        for line in table():
            # Signing out changes the session, which is outside the record.
            if line.method == "GET" and line.expected["observer"] == 200 and line.page != "account_logout":
                for who in ("observer", "owner"):
                    clients[who].get(line.address(row_of(line, own, who)))
        for name in ACTIONS:
            clients["crew"].get(reverse("do", args=[name, _target(name, own, "crew")]))


def test_what_was_struck_out_is_still_shown_and_says_so(own: World, clients: dict[str, Client]) -> None:
    scene = own.scene
    flaw = scene.flaw(scene.runs[0], "1+001.00 @ 1:00")
    (patch,) = scene.issue(flaw)
    scene.do("strike_patch", scene.lead, patch, why="Drawn twice.")
    scene.do("strike_flaw", scene.lead, flaw, why="Wrong run.")
    scene.do("strike_run", scene.lead, scene.runs[0], why="Wrong detector.")
    shown = {
        reverse("flaw", args=[flaw.pk]): "Wrong run.",
        reverse("patch", args=[patch.pk]): "Drawn twice.",
        reverse("run", args=[scene.runs[0].pk]): "Wrong detector.",
        reverse("zone", args=[scene.zone.pk]): "struck out",
        reverse("sheet", args=[scene.sheet.pk]): "struck",
        reverse("flaw_tag", args=[flaw.pk]): flaw.tag,
    }
    for address, said in shown.items():
        answer = clients["observer"].get(address)
        assert answer.status_code == 200, address
        assert said in answer.content.decode(), address
