"""The railway folder over HTTP: where it stands and what `check` says of it; where there is none, how one is made.

Rule: a page never names a path. What it sends is a sketch, of bounded size; nothing is written that was not judged.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, Protocol, TypeVar

from fastapi import FastAPI, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse, Response
from starlette.middleware import Middleware

from bridge import __version__
from bridge.dashboard.answers import Folder, Made, Tried
from bridge.dashboard.documented import ACTING, LOOKING, SENDING, body_of, describe
from bridge.dashboard.frames import dumps
from bridge.dashboard.gate import Gate
from bridge.dashboard.pages import Pages, find_web
from bridge.dashboard.pin import Pin, PinGate
from bridge.dashboard.told import NotTakenError, judged, say_not_taken
from bridge.folder.making import Sketch

SKETCH_BYTES = 131_072
WANTED = "a sketch of a railway, as the page sends it"
Told = Mapping[str, Any]
Result = TypeVar("Result")


class Ground(Protocol):
    """The railway folder as the dashboard sees it. Its methods read or write the disk; all results are ready for JSON."""

    def stands(self) -> Told:
        """Where the folder stands: its state, its path, and what `check` said of it when it was last read."""

    def look(self) -> Told:
        """The same, read anew."""

    def attempt(self, sketch: Sketch) -> Told:
        """What is wrong with a sketch, and the texts that would be written."""

    def make(self, sketch: Sketch) -> Told:
        """Write them."""


def create_founding(
    ground: Ground, *, web_dir: Path | None = None, hosts: Iterable[str] = (), pin: Pin | None = None
) -> FastAPI:
    """What is served as long as there is no session: the guide in the place of the page, and the folder's own door.

    Raises FileNotFoundError where the page is nowhere.
    """
    web = find_web() if web_dir is None else web_dir
    gates = [Middleware(Gate, hosts=tuple(hosts)), Middleware(PinGate, pin=pin)]
    app = FastAPI(
        title="Numbertaker", version=__version__, docs_url=None, redoc_url=None, openapi_url=None, middleware=gates
    )
    app.add_exception_handler(NotTakenError, say_not_taken)
    app.state.end_streams = _no_streams
    add_ground(app, ground)
    _add_making(app, ground)

    @app.get("/", include_in_schema=False)
    @app.get("/index.html", include_in_schema=False)
    async def guide() -> FileResponse:
        return FileResponse(web / "guide.html", media_type="text/html; charset=utf-8", headers={"cache-control": "no-cache"})

    describe(app, (Sketch,), pin is not None)
    app.mount("/", Pages(directory=web))
    return app


def add_ground(app: FastAPI, ground: Ground) -> None:
    """How the folder stands, and a new look at it; each request has a thread of its own, as it reads files."""

    @app.get("/api/folder", response_model=Folder, responses=LOOKING)
    async def stands() -> Response:
        """How the railway folder stands."""
        return await _told(ground.stands)

    @app.post("/api/folder/look", response_model=Folder, responses=ACTING)
    async def look() -> Response:
        """The same, read anew."""
        return await _told(ground.look)


def _add_making(app: FastAPI, ground: Ground) -> None:
    """A sketch tried and made: only as long as no session has a report waiting while it is judged."""

    @app.post("/api/folder/try", response_model=Tried, responses=SENDING, openapi_extra=body_of(Sketch))
    async def attempt(request: Request) -> Response:
        """Judge a sketch of a railway; nothing is written."""
        sketch = await judged(request, Sketch, WANTED, SKETCH_BYTES)
        return await _told(lambda: ground.attempt(sketch))

    @app.post("/api/folder/make", response_model=Made, responses=SENDING, openapi_extra=body_of(Sketch))
    async def make(request: Request) -> Response:
        """Make the folder of a sketch."""
        sketch = await judged(request, Sketch, WANTED, SKETCH_BYTES)
        return await _told(lambda: ground.make(sketch))


async def _told(ask: Callable[[], Told]) -> Response:
    try:
        body = dumps(await run_in_threadpool(ask))
    except Exception as error:  # whatever it is, the page is told
        raise NotTakenError(503, f"The railway folder cannot be had just now: {error}") from error
    return Response(body, media_type="application/json", headers={"cache-control": "no-store"})


def _no_streams() -> None:
    """Nothing is streamed as long as there is no session."""
