"""ShapeField: a plane geometry in metres, stored as WKB. Always 2-D, valid and oriented; no grid snapping."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import shapely
from django.core.exceptions import ValidationError
from django.db import models
from shapely.geometry.base import BaseGeometry

from accounts.wording import say


class ShapeField(models.BinaryField):
    """Shapely geometry in and out. Seam splitting is done by the surface before the shape gets here."""

    if TYPE_CHECKING:
        # What the type checker takes a column of this kind for; a binary column would be bytes.
        _pyi_private_set_type: BaseGeometry
        _pyi_private_get_type: BaseGeometry

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> BaseGeometry | None:
        return None if value is None else shapely.from_wkb(bytes(value))

    def to_python(self, value: Any) -> BaseGeometry | None:
        if value is None or isinstance(value, BaseGeometry):
            return value
        return shapely.from_wkb(bytes(value))

    def pre_save(self, model_instance: models.Model, add: bool) -> Any:
        """The row in hand keeps the shape as it is stored, so that the record tells the same as the table."""
        value = super().pre_save(model_instance, add)
        if isinstance(value, BaseGeometry):
            value = clean(value)
            setattr(model_instance, self.attname, value)
        return value

    def get_db_prep_value(self, value: Any, connection: Any, prepared: bool = False) -> Any:
        if isinstance(value, BaseGeometry):
            value = shapely.to_wkb(clean(value))
        return super().get_db_prep_value(value, connection, prepared)

    def get_default(self) -> Any:
        return None


def clean(shape: BaseGeometry) -> BaseGeometry:
    """The shape as it is stored: 2-D, valid, polygons wound counter-clockwise. Raises ValidationError if invalid."""
    flat = shapely.force_2d(shape)
    if not shapely.is_valid(flat):
        raise ValidationError(
            say("The shape is not valid: {is_valid_reason}.", is_valid_reason=shapely.is_valid_reason(flat))
        )
    return shapely.orient_polygons(flat) if hasattr(shapely, "orient_polygons") else shapely.normalize(flat)
