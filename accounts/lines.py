"""Lists of small records as people type them: one a line, its parts divided by semicolons; or as objects, for programs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from drf_spectacular.openapi import AutoSchema
from rest_framework import serializers

from accounts.typed import with_unit
from accounts.units import QuantityField
from accounts.wording import say

PART = ";"
LONGEST = 100_000  # characters of text


class LinesField(serializers.Field):
    """A list of records of one serializer: objects, or text with one record a line, parts in the order of its fields.

    The last part may hold semicolons itself. Blank lines do not count. A bare number means the unit of the page.
    """

    def __init__(self, child: type[serializers.Serializer], *, most: int, rows: int = 5, **kwargs: Any) -> None:
        self.child_class = child
        self.most = most
        super().__init__(style={"base_template": "textarea.html", "rows": rows}, **kwargs)

    @property
    def allowed(self) -> str:
        names = "; ".join(str(each.label or name) for name, each in self.child.fields.items())
        return say("At most {most} lines, each: {names}.", most=self.most, names=names)

    @property
    def child(self) -> serializers.Serializer:
        """What one record is asked for."""
        return self.child_class()

    def objects_of(self, text: str) -> list[dict[str, str]]:
        """The records of text, as objects of texts."""
        names = list(self.child.fields)
        lines = [line.split(PART, len(names) - 1) for line in text.splitlines() if line.strip()]
        return [
            {name: part.strip() for name, part in zip(names, parts, strict=False) if part.strip()} for parts in lines
        ]

    def to_internal_value(self, data: Any) -> list[dict[str, Any]]:
        if isinstance(data, str):
            if len(data) > LONGEST:
                raise serializers.ValidationError(
                    say("This has {length} characters; at most {most} are read.", length=len(data), most=LONGEST)
                )
            data = self.objects_of(data)
        if not isinstance(data, list):
            raise serializers.ValidationError(say("This is no list. {allowed}", allowed=self.allowed))
        if len(data) > self.most:
            raise serializers.ValidationError(
                say("There are {count} lines; at most {most} are taken.", count=len(data), most=self.most)
            )
        if not data and self.required:
            raise serializers.ValidationError(say("Write at least one line. {allowed}", allowed=self.allowed))
        return self._read(data)

    def _read(self, data: list[Any]) -> list[dict[str, Any]]:
        taken: list[dict[str, Any]] = []
        wrong: dict[str, Any] = {}
        for number, record in enumerate(data):
            one = self.child_class(data=self._with_units(record), context=self.context)
            if one.is_valid():
                taken.append(dict(one.validated_data))
            else:
                wrong[str(number)] = one.errors
        if wrong:
            raise serializers.ValidationError(wrong)
        return taken

    def _with_units(self, record: Any) -> Any:
        """On a page a bare number means what the page says beside it; programs speak SI."""
        units = self.context.get("page_units")
        if not units or not isinstance(record, Mapping):
            return record
        fields = self.child.fields

        def said(name: str, value: Any) -> Any:
            field = fields.get(name)
            return (
                with_unit(value, field, units) if isinstance(field, QuantityField) and isinstance(value, str) else value
            )

        return {name: said(name, value) for name, value in record.items()}

    def to_representation(self, value: Any) -> Any:
        return value


class LinesSchema(OpenApiSerializerFieldExtension):
    target_class = "accounts.lines.LinesField"

    def map_serializer_field(self, auto_schema: AutoSchema, direction: Any) -> Any:
        child = auto_schema.resolve_serializer(self.target.child_class, direction)
        items = {"type": "array", "maxItems": self.target.most, "items": child.ref}
        text = {"type": "string", "maxLength": LONGEST, "description": "One a line, parts divided by semicolons."}
        return {"oneOf": [items, text]}
