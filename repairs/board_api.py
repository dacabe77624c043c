"""The owner's board as the API tells it: sums, assets and a page of zones, the worst first. Areas in m²."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.acting import find
from accounts.assets import Asset
from accounts.paging import whole_number
from accounts.people import Person
from accounts.schema import PARTS, problems
from repairs.board import board
from repairs.board_rows import AREAS, SORTS, STATES, Asked, ZoneRow
from repairs.picture_api import WHOSE, ContractRead, DensityRead

STATE = serializers.ChoiceField(choices=list(STATES))


class AreasRead(serializers.Serializer):
    """Areas in m². Without a prefix as found, with `left_` as left; tested, held, pending, lost and gap are testable."""

    def get_fields(self) -> dict[str, Any]:
        return {name: serializers.FloatField(help_text="m²") for name in AREAS}


class FiguresRead(serializers.Serializer):
    """Sums over zones."""

    zones = serializers.IntegerField()
    states = serializers.DictField(child=serializers.IntegerField(), help_text="How many zones stand where.")
    areas = AreasRead()
    counted = serializers.IntegerField(help_text="Flaws that count as found.")
    open_flaws = serializers.IntegerField()
    open_repairs = serializers.IntegerField(help_text="Patches neither accepted nor conceded.")
    over = serializers.IntegerField(help_text="Zones over their contract line.")
    found = DensityRead(allow_null=True, help_text="Counted flaws over tested area, as found.")
    left = DensityRead(allow_null=True, help_text="Open flaws over testable area, as left.")


class AgeRead(serializers.Serializer):
    """Open repairs by whole days since the patch was issued."""

    age = serializers.ChoiceField(source="code", choices=["week", "month", "older"])
    count = serializers.IntegerField(source="number")


class ProgressRead(serializers.Serializer):
    """At the end of a day on which something was done."""

    day = serializers.DateField()
    tested = serializers.FloatField(help_text="m² tested as found, of what stands today.")
    open_flaws = serializers.IntegerField()


class AssetOnBoardRead(serializers.Serializer):
    asset = serializers.UUIDField(source="asset.pk")
    name = serializers.CharField(source="asset.name")
    figures = FiguresRead()
    waiting_since = serializers.DateTimeField(allow_null=True)


class ZoneOnBoardRead(serializers.Serializer):
    """One zone. Figures are null where no coating has begun."""

    zone = serializers.UUIDField(source="zone.pk")
    name = serializers.CharField(source="zone.name")
    asset = serializers.UUIDField(source="asset.pk")
    coating = serializers.UUIDField(source="tally.pk", allow_null=True, default=None)
    state = STATE
    sentence = serializers.CharField()
    whose_turn = serializers.ChoiceField(source="turn.whose", choices=WHOSE, allow_null=True, default=None)
    why = serializers.CharField(source="turn.why", allow_null=True, default=None)
    since = serializers.DateTimeField(allow_null=True)
    areas = serializers.SerializerMethodField()
    coverage = serializers.CharField(source="coverage_words", allow_blank=True, help_text="Share tested as left.")
    counted = serializers.IntegerField(source="tally.counted", allow_null=True, default=None)
    open_flaws = serializers.IntegerField(source="tally.open_flaws", allow_null=True, default=None)
    open_repairs = serializers.IntegerField(source="tally.open_repairs", allow_null=True, default=None)
    found = DensityRead(allow_null=True)
    left = DensityRead(allow_null=True)
    contract = ContractRead(allow_null=True)

    @extend_schema_field(AreasRead(allow_null=True))
    def get_areas(self, row: ZoneRow) -> dict[str, float] | None:
        return None if row.tally is None else {name: getattr(row.tally, name) for name in AREAS}


class BoardRead(serializers.Serializer):
    """The board: sums over what was asked for, its assets (none when one was asked for), and a page of zones."""

    at = serializers.DateTimeField(help_text="The moment it was judged for.")
    late = serializers.IntegerField(
        help_text="Zones that still show figures from before their last changes; ask again to have them made."
    )
    total = FiguresRead()
    ages = AgeRead(many=True)
    progress = ProgressRead(many=True)
    assets = AssetOnBoardRead(many=True)
    zones = ZoneOnBoardRead(many=True)
    page = serializers.IntegerField(source="page.number")
    pages = serializers.IntegerField(source="page.paginator.num_pages")
    count = serializers.IntegerField(source="page.paginator.count", help_text="Zones that fit the filters.")


def _parameter(name: str, words: str, kind: Any = str, **more: Any) -> OpenApiParameter:
    return OpenApiParameter(name, kind, description=words, **more)


class BoardView(APIView):
    @extend_schema(
        operation_id="read_board",
        tags=[PARTS["repairs"]],
        parameters=[
            _parameter("asset", "One asset; left out: all you may see.", UUID),
            _parameter("state", "Only zones that stand so.", enum=list(STATES)),
            _parameter("q", "Only zones whose name has this."),
            _parameter("sort", "The order of zones; worst first when left out.", enum=list(SORTS)),
            _parameter("page", "Page of zones, from 1; the last one when there are fewer.", int),
            _parameter("limit", "Zones a page: 1 to 500, 50 when left out.", int),
        ],
        responses={200: BoardRead, **problems(400, 401, 404)},
    )
    def get(self, request: Request) -> Response:
        """Whose turn it is, ground, flaws, density and progress of every zone that you may see, summed up by asset."""
        person = cast(Person, request.user)
        return Response(BoardRead(board(person, _asked(person, request), timezone.now())).data)


def _asked(person: Person, request: Request) -> Asked:
    wanted = request.query_params.get("asset")
    return Asked(
        asset=find(person, Asset, wanted).pk if wanted else None,
        state=_one_of(request, "state", list(STATES), ""),
        search=request.query_params.get("q", "").replace("\0", "")[:80],
        sort=_one_of(request, "sort", list(SORTS), "worst"),
        page=whole_number(request, "page", least=1, most=1_000_000, default=1),
        per_page=whole_number(request, "limit", least=1, most=500, default=50),
    )


def _one_of(request: Request, name: str, allowed: list[str], default: str) -> str:
    said = request.query_params.get(name)
    if said is None:
        return default
    if said not in allowed:
        raise ValidationError({name: [f'"{said[:40]}" is not allowed: {", ".join(allowed)}.']})
    return said
