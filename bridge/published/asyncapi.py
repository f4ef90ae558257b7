"""What goes out by MQTT, as an AsyncAPI document (version 3.0.0, asyncapi.com/docs/reference/specification/v3.0.0).

Rule: made from the table of things and their shapes, never written beside them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from bridge import __version__
from bridge.published import line_shapes, shapes
from bridge.published.things import BRIDGE, KINDS, ROOT, TICK

Json = dict[str, Any]

DESCRIPTION = """The state of a model railway as Numbertaker sees it, thing by thing, as retained messages: who subscribes to
`numbertaker/RAILWAY/state/#` has the whole state at once, and from then on what changes.

It holds only while `state/bridge` says `here`. `gone` is said by the broker where the bridge has ended without a goodbye.
An empty message: the thing is no more. What runs on by itself comes once a second at `state/clock`, and is not retained.
A thing is published when it changes, the latest only; what lies between is told at `says/...`."""
REF = "#/components/schemas/{model}"


def document() -> Json:
    """The document, as JSON-ready object."""
    published: tuple[type[BaseModel], ...] = (
        *(kind.shape for kind in KINDS),
        shapes.Bridge,
        line_shapes.Ticking,
        shapes.Outcome,
    )
    models: list[tuple[type[BaseModel], Literal["serialization"]]] = [(model, "serialization") for model in published]
    _, schemas = models_json_schema(models, ref_template=REF)
    made = {
        "asyncapi": "3.0.0",
        "info": {"title": "Numbertaker", "version": __version__, "description": DESCRIPTION},
        "defaultContentType": "application/json",
        "servers": {
            "broker": {
                "host": "localhost:1883",
                "protocol": "mqtt",
                "protocolVersion": "5",
                "description": "The broker of railway.toml.",
            }
        },
        "channels": {},
        "operations": {},
        "components": {"schemas": schemas["$defs"]},
    }
    for kind in KINDS:
        level = "" if kind.parameter is None else f"/{{{kind.parameter}}}"
        _add(made, kind.name, f"{ROOT}/{kind.name}{level}", kind.shape, kind.each)
    _add(made, BRIDGE, f"{ROOT}/{BRIDGE}", shapes.Bridge, "Whether the other topics are kept true; gone is the last will.")
    _add(
        made,
        TICK,
        f"{ROOT}/{TICK}",
        line_shapes.Ticking,
        "What runs on by itself, once a second while it does.",
        retain=False,
    )
    _add(made, "says", "says/{kind}", shapes.Outcome, "What is said, each once, in order.", retain=False)
    _add_operator(made)
    return made


def _add(made: Json, name: str, levels: str, shape: type[BaseModel], each: str, retain: bool = True) -> None:
    made["channels"][name] = _channel(levels, each, {name: {"payload": {"$ref": REF.format(model=shape.__name__)}}})
    made["operations"][f"publish-{name}"] = {
        "action": "send",
        "channel": {"$ref": f"#/channels/{name}"},
        "summary": each,
        "bindings": {"mqtt": {"qos": 1, "retain": retain, "bindingVersion": "0.2.0"}},
    }


def _add_operator(made: Json) -> None:
    each = "Words of operators, a line each, as the page tells them; UTF-8."
    text = {"payload": {"type": "string", "maxLength": 1000}, "contentType": "text/plain"}
    made["channels"]["operator"] = _channel("operator", each, {"operator": text})
    made["operations"]["take-operator"] = {
        "action": "receive",
        "channel": {"$ref": "#/channels/operator"},
        "summary": each,
        "bindings": {"mqtt": {"qos": 1, "bindingVersion": "0.2.0"}},
    }


def _channel(levels: str, description: str, messages: Mapping[str, Json]) -> Json:
    address = f"numbertaker/{{railway}}/{levels}"
    names = [level[1:-1] for level in address.split("/") if level.startswith("{")]
    return {
        "address": address,
        "description": description,
        "messages": dict(messages),
        "parameters": {name: {"description": _described(name)} for name in names},
    }


def _described(name: str) -> str:
    match name:
        case "railway":
            return "The railway's id in railway.toml."
        case "kind":
            return "What is said, as its key `says`."
    return f"The {name}; what is no letter, figure or one of -._~ is percent-encoded."
