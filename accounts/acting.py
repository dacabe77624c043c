"""The registry of actions and the one way in for every change.

    @action("report_flaw", takes=ReportFlaw, roles={Role.CREW}, on=Run)
    def report_flaw(act, run, given): ...

`perform` finds the target through visible() (404), locks its record, answers a repeated operation with what it did the
first time, checks the role (403), validates (400), calls the function, and appends the entry: one transaction.
Functions hold rules only and write through `act`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.functional import Promise
from rest_framework import serializers
from rest_framework.exceptions import APIException, NotFound, PermissionDenied, ValidationError

from accounts import access, record
from accounts.heard import LONG_AGO, as_heard, check_years, untellable
from accounts.ids import new_id
from accounts.languages import kept_in_english
from accounts.people import Organisation, Person, Role
from accounts.rows import Row, Strikeable
from accounts.sync import set_aside
from accounts.wording import noted, say

if TYPE_CHECKING:
    from django_stubs_ext import StrPromise

AnyRow = TypeVar("AnyRow", bound=Row)
Rule = Callable[["Acting", Any, dict[str, Any]], Any]
Guard = Callable[[Any, Mapping[Role, Organisation]], str]
Reach = Callable[[Any, Mapping[str, Any]], Iterable[UUID]]
FAR_AHEAD = timedelta(minutes=5)


class Conflict(APIException):
    """The same id was used before with other content; what was sent is set aside for a person."""

    status_code = 409
    default_code = "conflict"

    def __init__(self, sentence: str) -> None:
        super().__init__(say(sentence))
        self.kept = sentence  # what is kept of it is English


class AlreadyRecorded(Exception):
    """Raised by a rule that finds all of it recorded by an earlier entry: nothing is written, the answer is "already"."""

    def __init__(self, entry: record.Entry, words: str) -> None:
        super().__init__(words)
        self.entry = entry


@dataclass(frozen=True)
class Action:
    """One registered change. `decision` marks what is decided online by a recent sign-in, never by an ordinary token.

    `reaches` names other records that the change will write to, from the target and the input as sent: all are locked
    at once in one order, so that two changes never wait for each other. `guard` says why this very row is closed to
    somebody of these roles ("" where it is not), so that no form is shown to whom the rule will refuse. `own` opens a
    person's row to that person, appointed or not: roles on single assets do not reach the organisation's record.
    """

    name: str
    title: str | StrPromise
    takes: type[serializers.Serializer]
    roles: frozenset[Role]
    on: type[Row]
    rule: Rule
    decision: bool
    reaches: Reach
    guard: Guard
    own: bool

    @property
    def summary(self) -> str:
        return (self.rule.__doc__ or "").strip().split("\n")[0]


REGISTRY: dict[str, Action] = {}


def open_to_its_roles(row: Any, held: Mapping[Role, Organisation]) -> str:
    """The guard of actions that every row is open for."""
    return ""


Follow = Callable[["Acting"], None]
FOLLOWING: list[Follow] = []


def after_every_change(follow: Follow) -> Follow:
    """Register what is derived anew after every change, inside its transaction, from the rows it changed."""
    FOLLOWING.append(follow)
    return follow


def nothing_else(target: Any, given: Mapping[str, Any]) -> Iterable[UUID]:
    """The reach of most actions: the target's own record."""
    return ()


def action(
    name: str,
    *,
    takes: type[serializers.Serializer],
    roles: Iterable[Role],
    on: type[Row],
    title: str | StrPromise,
    decision: bool = False,
    reaches: Reach = nothing_else,
    guard: Guard = open_to_its_roles,
    own: bool = False,
) -> Callable[[Rule], Rule]:
    """Register a function as the action `name` on rows of `on`. `title` is what its button says."""

    def register(rule: Rule) -> Rule:
        if name in REGISTRY:
            raise ValueError(f"action {name} is registered twice")
        REGISTRY[name] = Action(name, title, takes, frozenset(roles), on, rule, decision, reaches, guard, own)
        return rule

    return register


class NoInput(serializers.Serializer):
    """For actions that need nothing but the press."""


@dataclass
class Acting:
    """What an action's function writes through: every row it makes or changes lands in the entry."""

    action: Action
    person: Person
    organisation: Organisation
    roles: frozenset[Role]
    operation: UUID
    now: datetime
    device_at: datetime
    _rows: dict[UUID, Row] = field(default_factory=dict)
    _told: list[tuple[UUID | None, Any]] = field(default_factory=list)
    said: list[Any] = field(default_factory=list)
    _reached: dict[UUID, Row] = field(default_factory=dict)

    @property
    def id(self) -> UUID:
        """The operation's id, which is also the id of the one row it makes."""
        return self.operation

    def insert(self, row: AnyRow) -> AnyRow:
        if row.pk == self.operation and type(row)._default_manager.filter(pk=row.pk).exists():
            raise Conflict(noted("The id belongs to something else already. What you sent is set aside, not lost."))
        row.save(force_insert=True)
        self._rows[row.pk] = row
        return row

    def insert_many(self, rows: Sequence[AnyRow]) -> Sequence[AnyRow]:
        """Insert rows of one model with bulk statements."""
        if rows:
            type(rows[0])._default_manager.bulk_create(rows, batch_size=500)
            self._rows.update((row.pk, row) for row in rows)
        return rows

    def amend(self, row: AnyRow, **values: Any) -> AnyRow:
        """Set columns that are not facts, one version on."""
        for name, value in values.items():
            setattr(row, name, value)
        row.version += 1
        row.save(update_fields=[*values, "version"])
        self._rows[row.pk] = row
        return row

    def strike(self, row: Any, why: str) -> Any:
        """Strike a row out: it stays, with who, when and why."""
        if not isinstance(row, Strikeable):
            raise TypeError(f"{type(row).__name__} cannot be struck out")
        if row.struck_at is not None:
            self.refuse("why", say("This has been struck out already."))
        if not why.strip():
            self.refuse("why", say("Say why it is struck out."))
        struck: Any = row
        return self.amend(struck, struck_at=self.now, struck_by=self.person, struck_why=why.strip())

    def reach(self, rows: Iterable[Row]) -> None:
        """Note rows whose derived columns changed or may have: they are in no entry, but what follows looks at them."""
        self._reached.update((row.pk, row) for row in rows)

    @property
    def changed(self) -> tuple[Row, ...]:
        """Every row made, amended, struck out or reached by derivation."""
        return (*self._rows.values(), *self._reached.values())

    @property
    def consequences(self) -> tuple[Any, ...]:
        return tuple(what for _, what in self._told)

    def tell(self, what: Any, /, on: UUID | None = None, **gaps: Any) -> None:
        """Note a consequence (a sentence with gaps, or plain data) in the entries; `on` names the one record it is about.

        The record keeps the sentence in English, whoever acts; the press is answered in the person's language. What
        fills a gap is put into words once for each, so give the thing itself or lazy words.
        """
        if isinstance(what, str | Promise):
            self.said.append(say(str(what), **gaps))
            with kept_in_english():
                self._told.append((on, say(str(what), **gaps)))
        else:
            self.said.append(what)
            self._told.append((on, what))

    def refuse(self, name: str, message: str) -> NoReturn:
        """Stop: the named input cannot be taken; nothing is written."""
        raise ValidationError({name: [message]})


@dataclass(frozen=True)
class Done:
    """What perform answers. `status` is "recorded" or "already"; `made` is the function's result (None when already).

    `consequences` are as the record keeps them, `said` the same in the language of whoever acted.
    """

    status: str
    entry: record.Entry
    made: Any
    consequences: tuple[Any, ...]
    said: tuple[Any, ...] = ()


def perform(
    name: str,
    person: Person,
    target: UUID | str,
    given: Mapping[str, Any],
    *,
    operation: UUID | None = None,
    device_at: datetime | None = None,
    sent_at: datetime | None = None,
    may_decide: bool = True,
) -> Done:
    """Do the action `name` on the row `target` for `person` with the input `given`.

    Raises NotFound (not there, or not yours to see), PermissionDenied, ValidationError, Conflict.
    """
    what = REGISTRY[name]
    now = timezone.now()
    operation = operation or new_id()
    at = max(min(device_at, now + FAR_AHEAD), LONG_AGO) if device_at else now
    heard = as_heard(given)
    try:
        request_digest = record.sha256(record.canonical({"what": name, "target": target, "input": heard}))
    except ValueError:
        raise ValidationError(untellable(heard)) from None
    try:
        with transaction.atomic():
            return _perform(what, person, target, given, heard, operation, request_digest, now, at, sent_at, may_decide)
    except Conflict as problem:
        meant_for = access.record_id(find(person, what.on, target))
        set_aside(operation, name, UUID(str(target)), person, record.plain(heard), problem.kept, meant_for)
        raise


def _perform(
    what: Action,
    person: Person,
    target: UUID | str,
    given: Mapping[str, Any],
    heard: dict[str, Any],
    operation: UUID,
    request_digest: str,
    now: datetime,
    at: datetime,
    sent_at: datetime | None,
    may_decide: bool,
) -> Done:
    row = find(person, what.on, target)
    own = access.record_id(row)
    records = {each.pk: each for each in record.lock([own, *what.reaches(row, given)])}
    locked = records[own]
    earlier = record.Entry.objects.filter(record=locked, operation=operation).first()
    if earlier is not None:
        if earlier.request_digest != request_digest:
            raise Conflict(noted("The id was used before with other content. What you sent is set aside, not lost."))
        return Done("already", earlier, None, ())
    above = None if what.on.record_path == "self" else what.on._base_manager.select_related(what.on.record_path)
    row.refresh_from_db(from_queryset=above)
    held = access.roles_on(person, row, now if what.decision else at)
    allowed = [role for role in held if role in what.roles]
    if not allowed and not (what.own and row.pk == person.pk):
        names = ", ".join(sorted(role.label.lower() for role in what.roles))
        raise PermissionDenied(say('"{what}" is done by: {names}.', what=what.title, names=names))
    if what.decision and not may_decide:
        raise PermissionDenied(say("This token may not decide. Sign in, or make a token that may."))
    firm = held[allowed[0]] if allowed else person.organisation
    act = Acting(what, person, firm, frozenset(held), operation, now, at)
    form = what.takes(data=given, context={"act": act, "target": row})
    form.is_valid(raise_exception=True)
    check_years(form.validated_data)
    try:
        made = what.rule(act, row, form.validated_data)
    except AlreadyRecorded as found:
        return Done("already", found.entry, None, (str(found),), (say(str(found)),))
    for follow in FOLLOWING:
        follow(act)
    entries = _write(act, row, own, records, heard, request_digest, sent_at)
    return Done("recorded", entries[0], made, act.consequences, tuple(act.said))


def _write(
    act: Acting,
    target: Row,
    own: UUID,
    records: dict[UUID, record.Record],
    heard: dict[str, Any],
    request_digest: str,
    sent_at: datetime | None,
) -> list[record.Entry]:
    """Append the entry (for a big import one per 500 rows), and one on each other record that was written to or told of."""
    private = getattr(act.action.takes, "private", ())
    shown = {name: value for name, value in heard.items() if name not in private}
    by_record: dict[UUID, list[Row]] = {own: [], **{on: [] for on, _ in act._told if on is not None}}
    for row in act._rows.values():
        by_record.setdefault(access.record_id(row), []).append(row)
    missing = [pk for pk in by_record if pk not in records]
    records.update((other.pk, other) for other in (record.lock(missing) if missing else ()))
    offset = (act.now - sent_at).total_seconds() if sent_at else None
    entries = []
    for pk, rows in by_record.items():
        chunks = [rows[start : start + 500] for start in range(0, len(rows), 500)] or [[]]
        for number, chunk in enumerate(chunks):
            entries.append(
                record.append(
                    records[pk],
                    operation=act.operation if number == 0 else new_id(),
                    request_digest=request_digest,
                    what=act.action.name,
                    actor=act.person,
                    organisation=act.organisation,
                    device_at=act.device_at,
                    server_at=act.now,
                    clock_offset_s=offset,
                    given={"target": str(target.pk), **shown} if number == 0 else {"continues": str(act.operation)},
                    rows=chunk,
                    consequences=[what for on, what in act._told if on in (None, pk)] if number == 0 else [],
                )
            )
    return entries


def find(person: Person, model: type[AnyRow], pk: UUID | str) -> AnyRow:
    """The row if this person may see it; NotFound otherwise, the same for absent and foreign."""
    rows = access.visible(person, model)
    if model.record_path != "self":
        # Actions and pages walk up to the asset sooner or later.
        rows = rows.select_related(model.record_path)
    try:
        return rows.get(pk=UUID(str(pk)))
    except (model.DoesNotExist, ValueError):
        raise NotFound(say("There is no such {thing}.", thing=say(str(model._meta.verbose_name)))) from None


def may(person: Person, name: str, target: Row) -> bool:
    """Whether the person may do the action on this row now, by role and by row (pages show only such buttons)."""
    return refused(person, name, target) is None


def any_may(roles: Iterable[Role], name: str) -> bool:
    """Whether one of these roles does the action, which no row refuses: for a page that asks for the roles once."""
    return any(role in REGISTRY[name].roles for role in roles)


def refused(person: Person, name: str, target: Row) -> str | None:
    """Why the person may not do the action on this row now; None where they may."""
    what, held = REGISTRY[name], access.roles_on(person, target)
    if not any_may(held, name) and not (what.own and target.pk == person.pk):
        names = ", ".join(sorted(str(role.label).lower() for role in what.roles))
        return say('"{what}" is done by: {names}.', what=what.title, names=names)
    return what.guard(target, held) or None
