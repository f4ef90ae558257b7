"""The page's own files, wherever they were put, served as they are.

Rule: everything the page needs comes from here, and a browser asks each time whether it has changed.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

PACKAGE = Path(__file__).resolve().parent.parent

MEDIA_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".webmanifest": "application/manifest+json",
}
"""Said here, for some systems' own tables call a script plain text, and then no browser runs it."""


def find_web(package: Path = PACKAGE) -> Path:
    """The folder of the page: `_web` inside an installed package, `web` beside the package in a checkout.

    Raises FileNotFoundError that says where it was looked for.
    """
    places = (package / "_web", package.parent / "web")
    for place in places:
        if (place / "index.html").is_file():
            return place
    raise FileNotFoundError(f"the page (index.html) is in neither {places[0]} nor {places[1]}: install Numbertaker again")


class Pages(StaticFiles):
    """Static files with sure media types, asked for anew each time."""

    def file_response(self, full_path: str | os.PathLike[str], *args: Any, **kwargs: Any) -> Response:
        """The file, or "not modified"."""
        response = super().file_response(full_path, *args, **kwargs)
        media_type = MEDIA_TYPES.get(Path(full_path).suffix)
        if media_type is not None and response.status_code == 200:
            response.headers["content-type"] = media_type
        response.headers["cache-control"] = "no-cache"
        return response

    async def get_response(self, path: str, scope: Scope) -> Response:
        """As the framework has it, but nothing whose name begins with a dot."""
        if any(part.startswith(".") and part != "." for part in Path(path).parts):
            path = "no-such-file"
        return await super().get_response(path, scope)
