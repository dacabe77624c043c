"""What every address of the API is made of: lists and rows of one model, and one endpoint an action of the registry.

Views hold no rules: reads go through access.visible, every change through acting.perform.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any, ClassVar, cast
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Prefetch, QuerySet
from django.http import HttpRequest, QueryDict
from django.urls import URLPattern, URLResolver, path, reverse
from django_filters import ChoiceFilter, Filter, FilterSet, UUIDFilter
from rest_framework import serializers
from rest_framework.exceptions import APIException, NotFound, ParseError, ValidationError
from rest_framework.parsers import BaseParser, JSONParser, MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.routers import SimpleRouter
from rest_framework.views import APIView
from rest_framework.viewsets import ReadOnlyModelViewSet

from accounts import access, acting, record
from accounts.acting import Action, Conflict, Done
from accounts.conditional import check_version, tagged
from accounts.people import Person
from accounts.problems import MEDIA_TYPE, document
from accounts.rows import Row, Strikeable
from accounts.schema import ActionSchema, Envelope, ReadSchema, Recorded
from accounts.signing_in import signed_in_recently
from accounts.tokens import Token
from accounts.wording import say

HANGS_ON = ("organisation", "asset", "zone", "coating", "sheet", "run", "swath", "flaw", "patch", "cycle", "instrument")
LONGEST_WHOLE = 2**53


class TooLarge(APIException):
    status_code = 413


class PersonRead(serializers.ModelSerializer):
    """Somebody who did something."""

    class Meta:
        model = Person
        fields = ("id", "name")
        read_only_fields = fields


class StruckRead(serializers.Serializer):
    """A row that was struck out: it stays, with who, when and why."""

    at = serializers.DateTimeField(source="struck_at", read_only=True)
    by = PersonRead(source="struck_by", read_only=True)
    why = serializers.CharField(source="struck_why", read_only=True)

    def get_attribute(self, instance: Strikeable) -> Strikeable | None:
        return instance if instance.is_struck else None


class RowRead(serializers.ModelSerializer):
    """A row as it is read. `units` says by field what its number is in."""

    units: ClassVar[Mapping[str, str]] = {}

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        if issubclass(self.Meta.model, Strikeable):
            fields["struck"] = StruckRead(allow_null=True, help_text="Null while the row counts.")
        for name, field in fields.items():
            field.read_only, field.required = True, False
            if name in self.units:
                field.help_text = self.units[name]
        return fields


class Rows(ReadOnlyModelViewSet):
    """One collection: its rows in pages, and each by its id. Only what the person may see exists."""

    collection: ClassVar[str]
    select: ClassVar[tuple[str, ...]] = ()
    prefetch: ClassVar[tuple[str | Prefetch, ...]] = ()
    filters: ClassVar[Mapping[str, Filter]] = {}
    schema = ReadSchema()
    lookup_value_converter = "uuid"

    @classmethod
    def model(cls) -> type[Row]:
        return cls.serializer_class.Meta.model  # type: ignore[union-attr]

    @property
    def filterset_class(self) -> type[FilterSet]:
        return type(f"{type(self).__name__}Filter", (FilterSet,), {**filters_of(self.model()), **self.filters})

    def get_queryset(self) -> QuerySet[Any]:
        rows = access.visible(cast(Person, self.request.user), self.model())
        struck = ("struck_by",) if issubclass(self.model(), Strikeable) else ()
        return self.prepared(rows.select_related(*self.select, *struck).prefetch_related(*self.prefetch))

    def prepared(self, rows: QuerySet[Any]) -> QuerySet[Any]:
        """The rows with whatever else the serializer reads."""
        return rows

    def get_object(self) -> Any:
        row = self.get_queryset().filter(pk=self.kwargs["pk"]).first()
        if row is None:
            raise NotFound(say("There is no such {thing}.", thing=say(str(self.model()._meta.verbose_name))))
        return row

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        row = self.get_object()
        return tagged(request, row.version, self.get_serializer(row).data)


def filters_of(model: type[Row]) -> dict[str, Filter]:
    """A filter for each thing the row hangs on along its record path, and one for being struck out."""
    filters: dict[str, Filter] = {}
    steps = () if model.record_path == "self" else model.record_path.split("__")
    for number, name in enumerate(steps, 1):
        if name in HANGS_ON:
            filters[name] = UUIDFilter(field_name="__".join(steps[:number]), help_text=f"Id of the {name}.")
    if issubclass(model, Strikeable):
        filters["struck"] = ChoiceFilter(
            choices=[("true", "struck out"), ("false", "counting")],
            method=_struck,
            help_text="Left out: both.",
        )
    return filters


def _struck(rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
    return rows.filter(struck_at__isnull=value == "false")


def urls_of(*collections: type[Rows]) -> list[URLPattern | URLResolver]:
    """Addresses of the lists, rows and extra reads of these collections."""
    router = SimpleRouter(use_regex_path=False)
    for each in collections:
        router.register(each.collection, each, basename=f"api_{each.collection}")
    return router.urls


class StrictJSON(JSONParser):
    """JSON that can be stored, hashed and told again: no text with a null or half a character, no endless number."""

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        try:
            parsed = super().parse(stream, media_type, parser_context)
            _check(parsed, ())
        except RecursionError:
            raise ParseError(say("It is nested too deeply.")) from None
        return parsed


def _check(value: Any, where: tuple[str, ...]) -> None:
    problem = ""
    if isinstance(value, Mapping):
        for key, item in value.items():
            _check(key, where)
            _check(item, (*where, key))
    elif isinstance(value, list):
        for number, item in enumerate(value):
            _check(item, (*where, str(number)))
    elif isinstance(value, str) and ("\0" in value or any("\ud800" <= sign <= "\udfff" for sign in value)):
        problem = say("The text holds a null or half a character, which cannot be kept.")
    elif isinstance(value, float) and not math.isfinite(value):
        problem = say("The number is beyond what can be kept.")
    elif isinstance(value, int) and abs(value) > LONGEST_WHOLE:
        problem = say("The number is beyond what can be kept: at most {longest_whole}.", longest_whole=LONGEST_WHOLE)
    if problem:
        raise ValidationError({".".join(where) or "body": [problem]})


class ActionView(APIView):
    """The endpoint of one registered action, on one row."""

    does: Action = None  # type: ignore[assignment]
    schema = ActionSchema()

    @property
    def takes(self) -> type[serializers.Serializer]:
        return self.does.takes

    def get_parsers(self) -> list[BaseParser]:
        return [StrictJSON(), MultiPartParser()] if takes_files(self.does) else [StrictJSON()]

    def post(self, request: Request, pk: UUID) -> Response:
        person = cast(Person, request.user)
        row = acting.find(person, self.does.on, pk)
        check_size(request)
        with_it, given = self._read(request.data)
        if self._must_sign_in_again(request, person, row):
            says = say('"{does}" is a decision: confirm who you are, then send this again.', does=self.does.title)
            body = document(403, says, sign_in_again=reverse("account_reauthenticate"))
            return Response(body, status=403, content_type=MEDIA_TYPE)
        done = self._perform(request, person, row, with_it, given)
        return Response(recorded(done), status=201 if done.status == "recorded" else 200)

    def _read(self, data: Any) -> tuple[dict[str, Any], Any]:
        """What any action takes, and what this one takes. Raises ValidationError for a name neither knows."""
        if not isinstance(data, Mapping | QueryDict):
            raise ValidationError({"body": [say("Send an object with named fields.")]})
        shared, own = list(Envelope().fields), list(self.takes().fields)
        unknown = [name for name in data if name not in shared and name not in own]
        if unknown:
            allowed = ", ".join([*own, *shared])
            raise ValidationError(
                {
                    str(name)[:80]: [say("There is no such field; there are: {allowed}.", allowed=allowed)]
                    for name in unknown
                }
            )
        envelope = Envelope(data={name: data[name] for name in shared if name in data})
        envelope.is_valid(raise_exception=True)
        if isinstance(data, QueryDict):
            given = data.copy()
            for name in shared:
                given.pop(name, None)
            return envelope.validated_data, given
        return envelope.validated_data, {name: value for name, value in data.items() if name not in shared}

    def _must_sign_in_again(self, request: Request, person: Person, row: Row) -> bool:
        by_session = request.auth is None
        return (
            self.does.decision
            and by_session
            and acting.may(person, self.does.name, row)
            and not signed_in_recently(request._request)
        )

    def _perform(self, request: Request, person: Person, row: Row, with_it: dict[str, Any], given: Any) -> Done:
        operation = with_it.get("id")

        def perform() -> Done:
            return acting.perform(
                self.does.name,
                person,
                row.pk,
                given,
                operation=operation,
                device_at=with_it.get("device_at"),
                sent_at=with_it.get("sent_at"),
                may_decide=request.auth is None or cast(Token, request.auth).may_decide,
            )

        if "If-Match" not in request.headers:
            return perform()
        conflict: Conflict
        with transaction.atomic():
            (locked,) = record.lock([access.record_id(row)])
            # A resend of what was recorded is answered as such, though it moved the version on itself.
            if operation is None or not locked.entries.filter(operation=operation).exists():
                row.refresh_from_db(fields=["version"])
                check_version(request, row.version)
            try:
                return perform()
            except Conflict as problem:
                conflict = problem
        raise conflict  # after the transaction, which keeps what was set aside


def check_size(request: Request | HttpRequest, most: int | None = None) -> None:
    """Raises TooLarge for a body beyond `most` bytes (what is taken anywhere), before any of it is read."""
    said = request.META.get("CONTENT_LENGTH") or ""
    most = most or settings.DATA_UPLOAD_MAX_MEMORY_SIZE
    if said.isdecimal() and int(said) > most:
        raise TooLarge(
            say(
                "{said:.1f} MB were sent; up to {most:.1f} MB are taken.",
                said=int(said) / 1e6,
                most=most / 1e6,
            )
        )


def takes_files(action: Action) -> bool:
    return any(isinstance(field, serializers.FileField) for field in action.takes().fields.values())


def recorded(done: Done) -> dict[str, Any]:
    """What an action answers. A resend is told what followed the first time: that is read from the entry."""
    entry = done.entry
    told = {
        "status": done.status,
        "id": entry.operation,
        "entry": {"record": entry.record_id, "seq": entry.seq, "digest": entry.digest},
        "consequences": record.plain(done.consequences) or json.loads(entry.body)["consequences"],
    }
    return dict(Recorded(told).data)


def action_urls(*collections: type[Rows]) -> list[URLPattern]:
    """One address an action of the registry, below the collection of what it is done on.

    Raises LookupError when an action is done on rows that no collection serves.
    """
    served = {each.model(): each.collection for each in collections}
    missing = [each.name for each in acting.REGISTRY.values() if each.on not in served]
    if missing:
        raise LookupError(f"No collection of the API serves what these actions are done on: {', '.join(missing)}.")
    return [
        path(
            f"{served[each.on]}/<uuid:pk>/{each.name}/",
            ActionView.as_view(does=each),
            name=f"api_do_{each.name}",
        )
        for each in acting.REGISTRY.values()
    ]
