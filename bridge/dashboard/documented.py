"""HTTP described: the OpenAPI document of what is served, with every refusal, and the AsyncAPI document of what goes out by
MQTT.

Rule: bodies are read and judged by hand, within their bounds, so what is said of them here is made from the very shapes by
which they are judged.
"""

from __future__ import annotations

from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.routing import Route

from bridge.dashboard.answers import Answered
from bridge.dashboard.frames import dumps
from bridge.dashboard.gate import refused
from bridge.dashboard.pin import HEADER
from bridge.published import document

REF = "#/components/schemas/{model}"
PIN_SCHEME = "PIN"
Responses = dict[int | str, dict[str, Any]]

NOT_FROM_ELSEWHERE: Mapping[int, str] = {
    403: "Another site's page has asked.",
    421: "The host name is none of this machine's.",
}
NOT_ALLOWED: Mapping[int, str] = {
    401: "From another device: the PIN is missing or wrong.",
    429: "The PIN was wrong too often: wait.",
}
NO_BODY_OF_THAT_KIND: Mapping[int, str] = {
    413: "The body is too long.",
    415: "The body is not said to be JSON.",
    422: "The body is not what was asked for; the text names the field.",
}
NOT_NOW: Mapping[int, str] = {503: "It cannot be had just now; the text says why."}


def refusals(*tables: Mapping[int, str]) -> Responses:
    """Refusals as a route declares them, each of the shape of an answer."""
    return {status: {"model": Answered, "description": text} for table in tables for status, text in sorted(table.items())}


LOOKING = refusals(NOT_FROM_ELSEWHERE, NOT_NOW)
ACTING = refusals(NOT_FROM_ELSEWHERE, NOT_ALLOWED, NOT_NOW)
SENDING = refusals(NOT_FROM_ELSEWHERE, NOT_ALLOWED, NO_BODY_OF_THAT_KIND, NOT_NOW)


def text_of(media_type: str, description: str) -> Responses:
    """A good answer that is no JSON."""
    return {200: {"description": description, "content": {media_type: {"schema": {"type": "string"}}}}}


def body_of(kind: type[BaseModel]) -> dict[str, Any]:
    """What a route says of the body that it reads by hand."""
    schema = {"$ref": REF.format(model=kind.__name__)}
    return {"requestBody": {"required": True, "content": {"application/json": {"schema": schema}}}}


def describe(app: FastAPI, bodies: tuple[type[BaseModel], ...], has_pin: bool) -> None:
    """Serve both documents; `bodies` are the shapes that `body_of` names. Whatever is not there is answered plainly."""
    made = app.openapi

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            _complete(made(), bodies, has_pin)
        return app.openapi_schema or {}

    app.openapi = openapi  # type: ignore[method-assign]
    app.add_exception_handler(HTTPException, _say_no)

    @app.get("/openapi.json", include_in_schema=False)
    async def http() -> Response:
        return Response(dumps(app.openapi()), media_type="application/json")

    @app.get("/asyncapi.json", include_in_schema=False)
    async def mqtt() -> Response:
        return Response(dumps(document()), media_type="application/json")


def _complete(made: dict[str, Any], bodies: tuple[type[BaseModel], ...], has_pin: bool) -> None:
    """Add what the library cannot know: the bodies' shapes, and the PIN."""
    components = made.setdefault("components", {})
    schemas = components.setdefault("schemas", {})
    for kind in bodies:
        schema = kind.model_json_schema(ref_template=REF)
        schemas.update(schema.pop("$defs", {}))
        schemas[kind.__name__] = schema
    if has_pin:
        components["securitySchemes"] = {
            PIN_SCHEME: {"type": "apiKey", "in": "header", "name": HEADER, "description": "From another device alone."}
        }
        for methods in made["paths"].values():
            if "post" in methods:
                methods["post"]["security"] = [{PIN_SCHEME: []}]


async def _say_no(request: Request, error: Exception) -> JSONResponse:
    """The answer where there is nothing of that name, or nothing that can be done so."""
    assert isinstance(error, HTTPException)
    status, headers, ways = error.status_code, error.headers, _ways(request)
    text = f"{HTTPStatus(status).phrase}. What can be asked for stands in /openapi.json."
    if ways or status == HTTPStatus.METHOD_NOT_ALLOWED:  # where only the page's own files were looked for, too
        ways = ways or (headers or {}).get("Allow", "GET")
        status, headers = HTTPStatus.METHOD_NOT_ALLOWED, {"Allow": ways}
        text = f"{request.method} is not taken here, but {ways}. What can be asked for stands in /openapi.json."
    return JSONResponse(dict(refused(text)), status_code=status, headers=headers)


def _ways(request: Request) -> str:
    """The methods of all routes of this path."""
    routes = (route for route in request.app.routes if isinstance(route, Route) and route.path == request.url.path)
    return ", ".join(sorted({method for route in routes for method in route.methods or ()}))
