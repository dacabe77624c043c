"""Copies the zones of an asset inside PostgreSQL, with everything that hangs on them, many times over."""

from __future__ import annotations

from collections.abc import Iterator

from django.db import connection, models, transaction

from accounts.assets import Asset
from accounts.guards import recorded_models
from accounts.people import Appointment
from accounts.record import Record
from inspections.coatings import Coverage
from mapping.landmarks import Landmark
from mapping.zones import Zone
from repairs.tallies import LastChange, Tally

OF_ZONES: tuple[type[models.Model], ...] = (Coverage, LastChange, Tally)


def copy_zones(asset: Asset, sets: int, assets: int) -> None:
    """Until there are `sets` times the asset's zones, spread evenly over `assets` assets.

    An id of a copy is made from the number of its set, or of its asset, and the id it is copied from, so that references
    between copies hold. Triggers and foreign keys rest meanwhile; what is copied has passed them.
    """
    shared, own = _of_assets(), _of_zones()
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        cursor.execute("SET LOCAL synchronous_commit = off")
        for model in shared:
            cursor.execute(_statement(model, shared, own, "n", _mine(model, asset)), {"most": assets - 1})
        for model in own:
            cursor.execute(_statement(model, shared, own, "z", "TRUE"), {"most": sets - 1, "assets": assets})
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")


def _of_assets() -> list[type[models.Model]]:
    found = [model for model in recorded_models() if model.record_path == "asset"]
    return [Record, Asset, Appointment, *(model for model in found if model not in (Zone, Landmark))]


def _of_zones() -> list[type[models.Model]]:
    found = [model for model in recorded_models() if {"zone", "coating"} & set(model.record_path.split("__"))]
    return [Zone, *found, *OF_ZONES]


def _mine(model: type[models.Model], asset: Asset) -> str:
    if model in (Record, Asset):
        return f"t.id = '{asset.pk}'"
    return f"t.asset_id = '{asset.pk}'"


def _statement(
    model: type[models.Model], shared: list[type[models.Model]], own: list[type[models.Model]], copy: str, where: str
) -> str:
    columns = list(_columns(model, shared, own, copy))
    names = ", ".join(f'"{name}"' for name, _ in columns)
    values = ", ".join(value for _, value in columns)
    if copy == "n":
        numbers = "generate_series(1, %(most)s) AS n"
    else:
        numbers = "(SELECT z, z %% %(assets)s AS n FROM generate_series(1, %(most)s) AS z) AS copies"
    table = model._meta.db_table
    return f'INSERT INTO "{table}" ({names}) SELECT {values} FROM "{table}" t CROSS JOIN {numbers} WHERE {where}'


def _columns(
    model: type[models.Model], shared: list[type[models.Model]], own: list[type[models.Model]], copy: str
) -> Iterator[tuple[str, str]]:
    for field in model._meta.concrete_fields:
        name, value = field.column, f't."{field.column}"'
        is_id = field.primary_key and isinstance(field, models.UUIDField)
        target = field.related_model if field.is_relation else model if is_id else None
        if target in own:
            value = f"md5('zone' || z || {value}::text)::uuid"
        elif target in shared:
            of_asset = f"md5('asset' || n || {value}::text)::uuid"
            value = of_asset if copy == "n" else f"CASE WHEN n = 0 THEN {value} ELSE {of_asset} END"
        elif field.primary_key:
            continue  # a plain number, given by the database
        elif (model, name) == (Zone, "name"):
            value = f"{value} || ', copy ' || z"
        elif (model, name) == (Asset, "name"):
            value = f"{value} || ', copy ' || n"
        yield name, value
