"""The API's description (OpenAPI 3.1): what every address answers, who may press what, and how refusals look."""

from __future__ import annotations

from inspect import getdoc
from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import build_bearer_security_scheme_object
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse
from rest_framework import serializers

from accounts.acting import Action
from accounts.problems import MEDIA_TYPE, PROBLEMS

PARTS = {
    "accounts": "Who and whose",
    "mapping": "Where",
    "inspections": "Tested and found",
    "repairs": "Put right, let go",
}
TAG = OpenApiParameter(
    "ETag", OpenApiTypes.STR, OpenApiParameter.HEADER, description="Version and hash of the answer.", response=[200]
)
IF_NONE_MATCH = OpenApiParameter(
    "If-None-Match",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    description="ETags held already: 304 when one still holds.",
)
IF_MATCH = OpenApiParameter(
    "If-Match",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    description="ETag of the row as it was read: 412 when it was amended since. Without it the row is taken as it is.",
)
RETRY_AFTER = OpenApiParameter(
    "Retry-After", OpenApiTypes.INT, OpenApiParameter.HEADER, description="Seconds to wait.", response=[429]
)


class FieldError(serializers.Serializer):
    """One bad field."""

    field = serializers.CharField(help_text="Its name, nested names with dots; empty when it is no single field.")
    message = serializers.CharField(help_text="What is wrong with it.")
    value = serializers.JSONField(required=False, help_text="What was sent, shortened.")
    allowed = serializers.CharField(required=False, help_text="What may be sent.")


class ProblemDetails(serializers.Serializer):
    """A refusal (RFC 9457)."""

    type = serializers.CharField(help_text="Address of the page that explains this kind of problem.")
    title = serializers.CharField(help_text="The kind of problem in words.")
    status = serializers.IntegerField()
    detail = serializers.CharField(help_text="This problem in words.")
    errors = FieldError(many=True, required=False)  # type: ignore[assignment]
    sign_in_again = serializers.CharField(
        required=False, help_text="Address where a person confirms who they are; then send the same again."
    )


class EntryPlace(serializers.Serializer):
    """Where in which record the entry stands. A device keeps it: the chain can be checked against it."""

    record = serializers.UUIDField()
    seq = serializers.IntegerField()
    digest = serializers.CharField(help_text="sha256, 64 hexadecimal digits.")


class Recorded(serializers.Serializer):
    """What an action answers."""

    status = serializers.ChoiceField(
        choices=["recorded", "already"], help_text='"already": the same was recorded before; nothing was written now.'
    )
    id = serializers.UUIDField(help_text="The operation, and the row it made if it made one.")
    entry = EntryPlace()
    consequences = serializers.ListField(
        child=serializers.JSONField(), help_text="What followed, as sentences or data."
    )


class Envelope(serializers.Serializer):
    """What any action takes beside its own input."""

    id = serializers.UUIDField(
        required=False,
        help_text="Id of the operation and of the row it makes, UUIDv7 preferred. Sent twice, it is recorded once.",
    )
    device_at = serializers.DateTimeField(required=False, help_text="When it was pressed, by the device's clock.")
    sent_at = serializers.DateTimeField(required=False, help_text="When it was sent; its offset is kept.")


def problems(*statuses: int) -> dict[Any, Any]:
    """The documented refusals with these statuses."""
    return {
        (status, MEDIA_TYPE): OpenApiResponse(ProblemDetails, description=PROBLEMS[status].title) for status in statuses
    }


class TokenScheme(OpenApiAuthenticationExtension):
    target_class = "accounts.tokens.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: AutoSchema) -> Any:
        return build_bearer_security_scheme_object(header_name="Authorization", token_prefix="Token")


class ReadSchema(AutoSchema):
    """For collections: lists by filter and page, one row with its ETag."""

    view: Any

    def get_tags(self) -> list[str]:
        return [PARTS[self.view.__class__.__module__.partition(".")[0]]]

    def get_operation_id(self) -> str:
        one = str(self.view.model()._meta.verbose_name).replace(" ", "_")
        return f"list_{self.view.collection}" if self._is_list() else f"read_{one}"

    def get_override_parameters(self) -> list[Any]:
        return [] if self._is_list() else [TAG, IF_NONE_MATCH]

    def get_response_serializers(self) -> Any:
        answer = {200: self._get_serializer()}
        if self._is_list():
            return {**answer, **problems(400, 401)}
        return {**answer, 304: OpenApiResponse(description="You hold it already."), **problems(401, 404)}

    def _is_list(self) -> bool:
        return self.view.action == "list"


class ActionSchema(AutoSchema):
    """For actions: everything is read from the registry."""

    view: Any

    @property
    def does(self) -> Action:
        return self.view.does

    def get_tags(self) -> list[str]:
        return [PARTS[self.does.rule.__module__.partition(".")[0]]]

    def get_operation_id(self) -> str:
        return self.does.name

    def get_summary(self) -> str:
        return str(self.does.title)

    def get_description(self) -> str:  # type: ignore[override]
        roles = ", ".join(sorted(role.value for role in self.does.roles))
        says = [getdoc(self.does.rule) or str(self.does.title), f"Roles: {roles}."]
        if self.does.decision:
            says.append("A decision: it needs a recent sign-in, or a token that may decide.")
        return "\n\n".join(says)

    def get_override_parameters(self) -> list[Any]:
        return [IF_MATCH]

    def get_request_serializer(self) -> Any:
        name = "".join(word.capitalize() for word in self.does.name.split("_"))
        return type(name, (Envelope, self.does.takes), {"__doc__": self.does.summary})

    def get_response_serializers(self) -> Any:
        return {
            201: OpenApiResponse(Recorded, description="Recorded."),
            200: OpenApiResponse(Recorded, description="Recorded before; nothing was written now."),
            **problems(400, 401, 403, 404, 409, 412, 413, 415),
        }


def tidied(result: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
    """Last touch: actions take no field they do not name, and the generator's own marks are left out."""
    schemas = result["components"]["schemas"]
    for path in result["paths"].values():
        for content in path.get("post", {}).get("requestBody", {}).get("content", {}).values():
            schemas[content["schema"]["$ref"].rpartition("/")[2]]["additionalProperties"] = False
    _without_marks(result)
    return result


def _without_marks(part: Any) -> None:
    if isinstance(part, dict):
        part.pop("x-spec-enum-id", None)
        if part.get("default") == "" and "format" in part:
            del part["default"]  # nothing given is no email address
        part = list(part.values())
    if isinstance(part, list):
        for each in part:
            _without_marks(each)
