"""The page's own files: read once, and its modules named ahead so that none waits for another."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

# Resolved, since an editable install is made of links.
_FOLDER = Path(__file__).resolve().parent / "static"
_KINDS = {
    ".js": "text/javascript",
    ".css": "text/css",
    ".svg": "image/svg+xml",
    ".html": "text/html",
}
_IMPORT = re.compile(r'^import .* from "\./(\w+\.js)";$', re.MULTILINE)
_MAIN = '<script type="module" src="/static/main.js"></script>'


async def front(_: Request) -> Response:
    """The page itself."""
    return Response(_front(), media_type="text/html")


async def own_file(request: Request) -> Response:
    """One file of the page; there are no others to be had."""
    found = _files().get(request.path_params["name"])
    if found is None:
        return PlainTextResponse("Not Found", 404)
    kind, body = found
    return Response(body, media_type=kind)


@cache
def _files() -> dict[str, tuple[str, bytes]]:
    """Kind and bytes by name, without the page that they belong to."""
    paths = [path for path in _FOLDER.iterdir() if path.suffix in _KINDS]
    return {path.name: (_KINDS[path.suffix], path.read_bytes()) for path in paths}


@cache
def _front() -> bytes:
    """The page with a link to every module it starts with: a browser would else learn of each only
    from the one that imports it. How far its lines are set in is for those who write it."""
    _, page = _files()["index.html"]
    links = [f'<link rel="modulepreload" href="/static/{name}">' for name in first_modules()]
    whole = page.replace(_MAIN.encode(), "\n".join([*links, _MAIN]).encode())
    return re.sub(rb"\n +", b"\n", whole)


def first_modules() -> list[str]:
    """The modules that ``main.js`` imports, itself or by others."""
    found, left = [], ["main.js"]
    while left:
        name = left.pop(0)
        if name in found:
            continue
        found.append(name)
        left += _IMPORT.findall(_files()[name][1].decode())
    return found
