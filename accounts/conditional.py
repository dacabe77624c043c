"""ETag on whatever is read by its id, and If-Match on what is changed.

A tag is the row's version, a hyphen and a hash of the answer. The whole tag says whether the answer changed
(If-None-Match); the version alone says whether the row was amended meanwhile (If-Match), for figures derived from
other rows move without anybody amending this one.
"""

from __future__ import annotations

import hashlib
from typing import Any

from django.utils.http import parse_etags
from rest_framework.exceptions import APIException
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.wording import say

ANY = "*"


class Changed(APIException):
    """The row has another version than the sender read."""

    status_code = 412
    default_code = "changed"


def tagged(request: Request, version: int, body: Any) -> Response:
    """The answer with its ETag; 304 without a body when the reader holds the same already."""
    digest = hashlib.sha256(JSONRenderer().render(body)).hexdigest()
    tag = f'"{version}-{digest[:20]}"'
    held = parse_etags(request.headers.get("If-None-Match", ""))
    if tag in held or ANY in held:
        return Response(status=304, headers={"ETag": tag})
    return Response(body, headers={"ETag": tag})


def check_version(request: Request, version: int) -> None:
    """Raises Changed when If-Match names other versions only."""
    held = parse_etags(request.headers["If-Match"])
    versions = {tag.strip('"').partition("-")[0] for tag in held if not tag.startswith("W/")}
    if ANY not in held and str(version) not in versions:
        raise Changed(
            say(
                "It was changed meanwhile: its version is {version}. Read it again, then send this again.",
                version=version,
            )
        )
