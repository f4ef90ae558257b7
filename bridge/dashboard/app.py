"""The dashboard over HTTP: the page, the newest picture, the live stream, and the door for what operators tell; beside a
picture the truth, where there is one: on simulated boards only.

Rule: it reads pictures and hands on words, and holds no state of the railway. A fault here is answered here; the service's
loop never learns of it.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from fastapi import FastAPI, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, Response, StreamingResponse

from bridge import __version__
from bridge.dashboard.answers import Answered, Health, Offer
from bridge.dashboard.answers import Truth as TrueNow
from bridge.dashboard.audience import Audience
from bridge.dashboard.documented import LOOKING, SENDING, body_of, describe, refusals, text_of
from bridge.dashboard.door import After, Answer, Door
from bridge.dashboard.founding import Ground, add_ground
from bridge.dashboard.frames import Writer, dumps, frames, picture
from bridge.dashboard.gate import Gate
from bridge.dashboard.metrics import Metrics, health
from bridge.dashboard.pages import Pages, find_web
from bridge.dashboard.pin import Pin, PinGate
from bridge.dashboard.told import Agreed, NotTakenError, Told, read_agreed, read_told, say_not_taken
from bridge.published import Picture

ANSWER_S = 5.0
Truth = Callable[[Mapping[str, Any]], Mapping[str, Any]]
"""Given a snapshot, what is true this instant and where the snapshot is wrong (`bridge.virtual.beside`); returns at once."""

STREAMED = text_of(
    "text/event-stream",
    "Events `snapshot` (a picture, as /api/snapshot), `fault` (`version`, `text`) and, every 2 s, `ping` (`t`, `time`).",
)
METRICS = text_of("text/plain", "Figures of the service in the text format of Prometheus.")
UNWELL = {"model": Health | Answered, "description": "It is not well, or does not answer; why stands in it."}
LATE = refusals({504: "No answer in time: it may have been taken."})
STREAM_HEADERS = {"cache-control": "no-cache", "x-accel-buffering": "no"}


def create_app(
    door: Door,
    *,
    web_dir: Path | None = None,
    hosts: Iterable[str] = (),
    truth: Truth | None = None,
    after: After | None = None,
    ground: Ground | None = None,
    pin: Pin | None = None,
) -> FastAPI:
    """The dashboard as an ASGI application.

    `after` is what can be written down once a session has ended, `ground` the railway folder, `pin` what acting from another
    device needs. `truth` tells what really is, where the boards are
    simulated. `web_dir` is the folder of the page where it is not the project's own; `hosts` are further host names under
    which the page may be opened, beside localhost, this machine's name and the address that a connection came in at.
    `app.state.audience` holds the open streams. Raises FileNotFoundError where the page is nowhere.
    """
    web = find_web() if web_dir is None else web_dir
    app = FastAPI(title="Numbertaker", version=__version__, docs_url=None, redoc_url=None, openapi_url=None)
    app.state.audience = Audience(door)
    app.state.end_streams = app.state.audience.close
    app.add_middleware(PinGate, pin=pin)
    app.add_middleware(Gate, hosts=tuple(hosts))
    app.add_exception_handler(NotTakenError, say_not_taken)
    _add_reading(app, door, truth is not None)
    if truth is not None:
        _add_truth(app, door, truth)
    _add_supervision(app, door)
    _add_telling(app, door)
    if after is not None:
        _add_after(app, after)
    if ground is not None:
        add_ground(app, ground)
    describe(app, (Told, Agreed), pin is not None)
    app.mount("/", Pages(directory=web, html=True))
    return app


def _add_reading(app: FastAPI, door: Door, has_truth: bool) -> None:
    audience: Audience = app.state.audience
    writer = Writer(has_truth)

    @app.get("/api/snapshot", response_model=Picture, responses=LOOKING)
    async def snapshot() -> Response:
        """The newest picture."""
        try:
            body = dumps(picture(door.latest(), has_truth))
        except Exception as error:  # whatever the service says, the page is told
            raise NotTakenError(503, f"The picture cannot be had just now: {error}") from error
        return Response(body, media_type="application/json", headers={"cache-control": "no-store"})

    @app.get("/api/stream", responses={**STREAMED, **LOOKING}, response_class=StreamingResponse)
    async def stream() -> StreamingResponse:
        """Each new picture as it comes (server-sent events)."""
        return StreamingResponse(frames(audience, writer), media_type="text/event-stream", headers=STREAM_HEADERS)


def _add_truth(app: FastAPI, door: Door, truth: Truth) -> None:
    @app.get("/api/truth", response_model=TrueNow, responses=LOOKING)
    async def told_beside() -> Response:
        """What is true this instant, beside the picture; on simulated boards."""
        try:
            body = dumps(truth(door.latest().snapshot))
        except Exception as error:
            raise NotTakenError(503, f"The truth cannot be had just now: {error}") from error
        return Response(body, media_type="application/json", headers={"cache-control": "no-store"})


def _add_supervision(app: FastAPI, door: Door) -> None:
    """How the service fares, for programs that watch it: anybody who may open the page may look, none may touch."""
    audience: Audience = app.state.audience
    metrics = Metrics(door, lambda: len(audience))

    @app.get("/healthz", response_model=Health, responses={**LOOKING, 503: UNWELL})
    async def healthz() -> JSONResponse:
        """How the service fares."""
        try:
            found = health(door, len(audience))
        except Exception as error:
            raise NotTakenError(503, f"The service does not answer: {error}") from error
        return JSONResponse(found, status_code=200 if found["ok"] else 503)

    @app.get("/metrics", responses={**METRICS, **LOOKING}, response_class=Response)
    async def told() -> Response:
        """Figures for programs that watch."""
        try:
            return Response(metrics.text(), media_type=metrics.media_type)
        except Exception as error:
            raise NotTakenError(503, f"The service does not answer: {error}") from error


def _add_telling(app: FastAPI, door: Door) -> None:
    @app.post("/api/tell", response_model=Answered, responses={**SENDING, **LATE}, openapi_extra=body_of(Told))
    async def tell(request: Request) -> JSONResponse:
        """Tell an operator's words."""
        told = await read_told(request)
        answer = await _answer(door, told.words, told.who)
        return JSONResponse({"accepted": answer.accepted, "text": answer.text, "n": answer.n})


def _add_after(app: FastAPI, after: After) -> None:
    """What is written down once a session has ended: it reads and writes files, so each request has a thread of its own."""

    @app.get("/api/after", response_model=Offer, responses=LOOKING)
    async def offer() -> Response:
        """What can be written down once a session has ended."""
        try:
            body = dumps(await run_in_threadpool(after.offer))
        except Exception as error:
            raise NotTakenError(503, f"What there is to write down cannot be had just now: {error}") from error
        return Response(body, media_type="application/json", headers={"cache-control": "no-store"})

    @app.post("/api/after", response_model=Answered, responses=SENDING, openapi_extra=body_of(Agreed))
    async def agree(request: Request) -> JSONResponse:
        """Write down what was shown under a token."""
        agreed = await read_agreed(request)
        try:
            answer = await run_in_threadpool(after.agree, agreed.token)
        except Exception as error:
            raise NotTakenError(503, f"It could not be written down: {error}") from error
        return JSONResponse({"accepted": answer.accepted, "text": answer.text, "n": answer.n})


async def _answer(door: Door, words: str, who: str | None) -> Answer:
    """The door's answer; raises NotTakenError with 503 or 504.

    The wait is shielded: giving up here must not cancel what the service has begun.
    """
    try:
        future = asyncio.wrap_future(door.tell(words, who))
        return await asyncio.wait_for(asyncio.shield(future), ANSWER_S)
    except TimeoutError as error:
        text = "No answer within 5 s. Look at the picture before you tell it again: it may have been taken."
        raise NotTakenError(504, text) from error
    except Exception as error:
        raise NotTakenError(503, f"It could not be taken: {error}") from error
