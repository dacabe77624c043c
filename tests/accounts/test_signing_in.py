"""Signing in and out, invitations, passwords, the second factor, and tokens for programs."""

from __future__ import annotations

import base64
import hashlib
import hmac
import re
import struct
import time
from smtplib import SMTPException

import pytest
from django.conf import settings
from django.core import mail
from django.test import Client
from django.urls import reverse

from accounts import organisation_pages
from accounts.people import Person
from accounts.signing_in import invitation_link
from accounts.tokens import Token
from tests.accounts.conftest import Firm

PASSWORD = "paper-ink-steel-9"


def _code(secret: str, at: float) -> str:
    """The six digits an authenticator app shows: RFC 6238 with RFC 4226's truncation, SHA-1, 30 s."""
    key = base64.b32decode(secret + "=" * (-len(secret) % 8))
    digest = hmac.new(key, struct.pack(">Q", int(at) // 30), hashlib.sha1).digest()
    start = digest[-1] & 0x0F
    return f"{(struct.unpack('>I', digest[start : start + 4])[0] & 0x7FFFFFFF) % 10**6:06d}"


def test_the_code_follows_the_published_example() -> None:
    # RFC 6238, appendix B, SHA-1, 59 s: 94287082 (eight digits; the last six are the same number modulo 10**6).
    assert _code(base64.b32encode(b"12345678901234567890").decode(), 59) == "287082"


def _sign_in(email: str, password: str = PASSWORD) -> Client:
    client = Client()
    client.post(reverse("account_login"), {"login": email, "password": password})
    return client


def _is_in(client: Client) -> bool:
    return client.get(reverse("settings")).status_code == 200


def _age(client: Client, seconds: float) -> None:
    """Make the sign-in of this session older."""
    session = client.session
    for record in session["account_authentication_methods"]:
        record["at"] -= seconds
    session.save()


@pytest.fixture
def admin(firm: Firm) -> Person:
    firm.admin.set_password(PASSWORD)
    firm.admin.save()
    return firm.admin


def test_email_and_password_sign_in_whatever_the_case_of_the_email(admin: Person) -> None:
    assert _is_in(_sign_in("ADA@Sill.example"))


def test_a_wrong_password_is_answered_in_words_that_tell_nothing(admin: Person) -> None:
    answers = [
        Client().post(reverse("account_login"), {"login": email, "password": "wrong"}).content.decode()
        for email in (admin.email, "nobody@sill.example")
    ]
    assert ["do not belong together" in answer for answer in answers] == [True, True]


def test_a_closed_account_cannot_sign_in(admin: Person) -> None:
    admin.is_active = False
    admin.save()
    assert not _is_in(_sign_in(admin.email))


def test_signing_out_ends_the_session(admin: Person) -> None:
    client = _sign_in(admin.email)
    client.post(reverse("account_logout"))
    assert not _is_in(client)


def test_nobody_signs_up(db: None) -> None:
    body = {"email": "una@osk.example", "password1": PASSWORD, "password2": PASSWORD}
    answer = Client().post(reverse("account_signup"), body)
    assert "There is no sign-up" in answer.content.decode()
    assert not Person.objects.exists()


def test_attempts_are_limited_outside_tests() -> None:
    assert settings.MODE == "test"
    assert settings.ACCOUNT_RATE_LIMITS is False
    source = (settings.BASE_DIR / "config" / "settings.py").read_text()
    assert re.findall(r'(?m)^if MODE == "test":\n    ACCOUNT_RATE_LIMITS = False$', source)


def test_an_invited_person_sets_a_password_once_and_signs_in(firm: Firm) -> None:
    client = Client()
    form = client.get(invitation_link(firm.crew), follow=True)
    done = client.post(form.request["PATH_INFO"], {"password1": PASSWORD, "password2": PASSWORD})
    assert done["Location"] == reverse("account_reset_password_from_key_done")
    assert _is_in(_sign_in(firm.crew.email))


def test_a_used_invitation_no_longer_works(firm: Firm) -> None:
    link = invitation_link(firm.crew)
    firm.crew.set_password(PASSWORD)
    firm.crew.save()
    assert "This link no longer works" in Client().get(link, follow=True).content.decode()


def test_inviting_sends_the_link_and_shows_it_to_the_administrator(admin: Person, firm: Firm) -> None:
    address = reverse("invite_person", kwargs={"pk": firm.organisation.pk})
    page = _sign_in(admin.email).post(address, {"name": "Una Holt", "email": "una@sill.example"}, follow=True)
    (sent,) = mail.outbox
    link = re.search(r"http\S+", str(sent.body))
    assert sent.to == ["una@sill.example"]
    assert sent.subject == "Barespot: Ada Fenn invites you"
    assert link is not None
    assert link[0] in page.content.decode()


def test_an_invitation_stands_when_no_mail_can_be_sent(
    admin: Person, firm: Firm, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*args: object) -> str:
        raise SMTPException("no server")

    monkeypatch.setattr(organisation_pages, "send_invitation", broken)
    address = reverse("invite_person", kwargs={"pk": firm.organisation.pk})
    page = _sign_in(admin.email).post(address, {"name": "Una Holt", "email": "una@sill.example"}, follow=True)
    assert "no mail could be sent" in page.content.decode()
    assert Person.objects.filter(email="una@sill.example").exists()


def test_an_invitation_is_sent_again_only_until_a_password_is_set(admin: Person, firm: Firm) -> None:
    client, address = _sign_in(admin.email), reverse("invite_again", kwargs={"pk": firm.crew.pk})
    client.post(address)
    firm.crew.set_password(PASSWORD)
    firm.crew.save()
    client.post(address)
    assert len(mail.outbox) == 1


def test_only_administrators_send_invitations_again(firm: Firm) -> None:
    client = Client()
    client.force_login(firm.crew)
    assert client.post(reverse("invite_again", kwargs={"pk": firm.crew.pk})).status_code == 403


def test_a_forgotten_password_is_set_anew_by_mail(admin: Person) -> None:
    Client().post(reverse("account_reset_password"), {"email": admin.email})
    link = re.search(r"http://testserver(\S+)", str(mail.outbox[0].body))
    assert link is not None
    client = Client()
    form = client.get(link[1], follow=True)
    client.post(form.request["PATH_INFO"], {"password1": "green-barrel-77", "password2": "green-barrel-77"})
    assert _is_in(_sign_in(admin.email, "green-barrel-77"))


def test_a_reset_tells_nobody_which_addresses_exist(admin: Person) -> None:
    answers = [
        Client().post(reverse("account_reset_password"), {"email": email}) for email in (admin.email, "no@sill.example")
    ]
    assert {(answer.status_code, answer["Location"]) for answer in answers} == {
        (302, reverse("account_reset_password_done"))
    }


def test_a_changed_password_leads_back_to_the_settings(admin: Person) -> None:
    body = {"oldpassword": PASSWORD, "password1": "green-barrel-77", "password2": "green-barrel-77"}
    answer = _sign_in(admin.email).post(reverse("account_change_password"), body)
    assert answer["Location"] == reverse("settings")


def _with_second_factor(admin: Person) -> tuple[Client, str]:
    client = _sign_in(admin.email)
    secret = client.get(reverse("mfa_activate_totp")).context["form"].secret
    client.post(reverse("mfa_activate_totp"), {"code": _code(secret, time.time())})
    return client, secret


def test_with_a_second_factor_the_password_alone_signs_nobody_in(admin: Person) -> None:
    _with_second_factor(admin)
    client = _sign_in(admin.email)
    assert not _is_in(client)


def test_a_recovery_code_signs_in_once(admin: Person) -> None:
    codes = _with_second_factor(admin)[0].get(reverse("mfa_view_recovery_codes")).context["unused_codes"]
    clients = [_sign_in(admin.email) for _ in range(2)]
    for client in clients:
        client.post(reverse("mfa_authenticate"), {"code": codes[0]})
    assert [_is_in(client) for client in clients] == [True, False]


def test_the_second_factor_is_turned_off_by_a_recent_sign_in_only(admin: Person) -> None:
    client, _ = _with_second_factor(admin)
    _age(client, 3601)
    client.post(reverse("mfa_deactivate_totp"))
    assert admin.authenticator_set.filter(type="totp").exists()


def test_a_token_is_shown_once_and_works(admin: Person) -> None:
    client = _sign_in(admin.email)
    page = client.post(reverse("make_token"), {"name": "tablet"}).content.decode()
    text = re.search(r"<code>([0-9a-f]{64})</code>", page)
    assert text is not None
    assert text[1] not in client.get(reverse("settings")).content.decode()
    token = Token.objects.get(user=admin)
    assert (token.name, token.may_decide, text[1].startswith(token.token_key)) == ("tablet", False, True)


def test_a_token_may_decide_only_when_made_so(admin: Person) -> None:
    _sign_in(admin.email).post(reverse("make_token"), {"name": "release robot", "may_decide": "true"})
    assert Token.objects.get(user=admin).may_decide


def test_a_token_needs_a_recent_sign_in(admin: Person) -> None:
    client = _sign_in(admin.email)
    _age(client, 3601)
    answer = client.post(reverse("make_token"), {"name": "tablet"})
    assert answer["Location"].startswith(reverse("account_reauthenticate"))
    assert not Token.objects.exists()


def test_a_token_without_a_name_is_asked_for_one(admin: Person) -> None:
    answer = _sign_in(admin.email).post(reverse("make_token"), {"name": ""})
    assert (answer.status_code, Token.objects.count()) == (422, 0)


def test_a_token_is_revoked_by_its_owner_alone(admin: Person, firm: Firm) -> None:
    token, _ = Token.objects.create(user=admin, name="tablet")
    address = reverse("revoke_token", kwargs={"digest": token.digest})
    other = Client()
    other.force_login(firm.crew)
    assert other.post(address).status_code == 404
    _sign_in(admin.email).post(address)
    assert not Token.objects.exists()


def test_the_front_page_of_an_empty_installation_says_how_to_begin(client: Client, db: None) -> None:
    assert "manage.py begin" in client.get("/").content.decode()


def test_the_front_page_leads_the_signed_in_to_todays_work(admin: Person) -> None:
    assert _sign_in(admin.email).get("/")["Location"] == reverse("today")


@pytest.mark.parametrize(("to", "goes"), [("/settings/", "/settings/"), ("https://elsewhere.example/", "/")])
def test_the_contrast_is_kept_on_the_device_and_leads_back_here_only(
    client: Client, db: None, to: str, goes: str
) -> None:
    answer = client.post(reverse("contrast"), {"contrast": "more", "next": to})
    assert answer["Location"] == goes
    assert 'data-contrast="more"' in client.get("/").content.decode()
    client.post(reverse("contrast"), {"contrast": "system"})
    assert "data-contrast" not in client.get("/").content.decode()
