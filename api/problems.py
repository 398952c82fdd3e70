"""Errors as RFC 9457 problem details."""

from __future__ import annotations

import re
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.responses import Response

from api.html import mistake, wants_html
from inspector.errors import InspectorError
from inspector.wording import POLES

MEDIA_TYPE = "application/problem+json"


class Problem(BaseModel):
    """RFC 9457 problem details; `code` names the error for programs."""

    type: str = "about:blank"
    title: str
    status: int
    detail: str
    code: str
    instance: str | None = None


# The field's own sentence where FastAPI's would not tell a person what to do.
_PLAIN = {
    "kind": "The kind of joint is text, such as cup.",
    "photo": "No photo was sent. Choose one, as a file in the field photo.",
    "poles": POLES,
    "wire": 'The wire size is text, such as "12 AWG".',
    "wire_od": "The diameter over the insulation is a number of millimetres, such as 4.5.",
    "alloy": "The alloy is tin-lead, lead-free or unknown.",
}
_FORM = (
    "The form cannot be read: send multipart/form-data with the photo, a file, in the field photo"
    " and every other field short and once."
)


def problem(status: int, detail: str, code: str, request: Request | None = None) -> Response:
    """A response of that status; with type about:blank the title is the status' own phrase.

    A browser gets the detail on a page, every other client problem details.
    """
    if request is not None and wants_html(request):
        return mistake(status, HTTPStatus(status).phrase, detail)
    body = Problem(
        title=HTTPStatus(status).phrase,
        status=status,
        detail=detail,
        code=code,
        instance=request.url.path if request else None,
    )
    return JSONResponse(body.model_dump(exclude_none=True), status, media_type=MEDIA_TYPE)


def _sentence(item: Mapping[str, Any]) -> str:
    """One of FastAPI's complaints as a sentence."""
    name = ".".join(str(part) for part in item["loc"][1:])
    return _PLAIN.get(name, f"The request cannot be used: {name or 'body'}: {item['msg']}.")


def responses(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """What OpenAPI says about these error statuses."""
    schema = {"$ref": "#/components/schemas/Problem"}
    content = {MEDIA_TYPE: {"schema": schema}}
    return {s: {"description": HTTPStatus(s).phrase, "content": content} for s in statuses}


def install(app: FastAPI) -> None:
    """Make every error of the app a problem, and describe problems in its OpenAPI."""
    describe = app.openapi

    def with_problems() -> dict[str, Any]:
        schema = describe()
        schema.setdefault("components", {}).setdefault("schemas", {})["Problem"] = (
            Problem.model_json_schema()
        )
        return schema

    app.openapi = with_problems  # type: ignore[method-assign] # FastAPI's documented way

    @app.exception_handler(InspectorError)
    def _user(request: Request, error: InspectorError) -> Response:
        name = type(error).__name__.removesuffix("Error")
        code = re.sub(r"(?<!^)(?=[A-Z])", "-", name).lower()
        status = 503 if code == "install" else 422
        return problem(status, str(error), code, request)

    @app.exception_handler(RequestValidationError)
    def _request(request: Request, error: RequestValidationError) -> Response:
        said = dict.fromkeys(_sentence(item) for item in error.errors())
        return problem(422, " ".join(said), "request", request)

    @app.exception_handler(HTTPException)
    def _http(request: Request, error: HTTPException) -> Response:
        if error.status_code == HTTPStatus.BAD_REQUEST:  # the form's reader, in words of its own
            return problem(HTTPStatus.BAD_REQUEST, _FORM, "request", request)
        answer = problem(error.status_code, str(error.detail), "http", request)
        answer.headers.update(error.headers or {})
        return answer

    @app.exception_handler(Exception)
    def _bug(request: Request, _error: Exception) -> Response:
        return problem(
            500, "The program failed on this request; its log says where.", "internal", request
        )
