"""The application: the page's own files, the questions, the photos."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.background import BackgroundTask
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from ..optics.errors import InputError
from ..optics.files.atomic import is_full
from .access import AccessCheck, AccessPolicy
from .own_files import front, own_file
from .phone_door import PhoneDesk
from .phones import Phones
from .uploads import MAP_FILES, MAX_BYTES, MAX_LOG_BYTES, PREVIEW_NAME, Uploads, read_body
from .work import FULL, NO_ROOM, QUESTIONS
from .workers import MOST_LEVELS, Reply, WorkerPool, read_json, refuse, report_bug

_WITH_A_FILE = ("photo", "export", "import")  # questions that have addresses of their own
MAX_QUESTION_BYTES = 2_000_000  # a list of readings, or a learnt kiln, travels with its question
NO_QUESTION = (
    f"the question is not one JSON object of whole letters, nested at most {MOST_LEVELS} deep"
)
TOO_SLOW = refuse(408, "what was sent did not come in whole in time; send it again")


def create_app(
    door: AccessPolicy, desk: WorkerPool | None = None, *, phones: Phones | None = None
) -> ASGIApp:
    """The application behind its guard.

    Parameters
    ----------
    door : AccessPolicy
        Key, port and host.
    desk : WorkerPool, optional
        Where questions are answered; one with worker processes by default.
    phones : Phones, optional
        Who may come in over a private address; nobody by default.
    """
    desk, shelf = desk or WorkerPool(), Uploads()

    @asynccontextmanager
    async def opened(_: Starlette) -> AsyncIterator[None]:
        desk.open()
        try:
            yield
        finally:
            desk.close()
            shelf.clear()

    pages = _Pages(desk, shelf, PhoneDesk(phones))
    routes = [
        Route("/", front, methods=["GET"]),
        Route("/api/photo", pages.photo, methods=["POST"]),
        Route("/api/photo/{name}/preview", pages.preview, methods=["GET"]),
        Route("/api/photo/{name}/map/{file}", pages.map_file, methods=["GET"]),
        Route("/api/take", pages.take, methods=["POST"]),
        Route("/api/log/file", pages.save_log, methods=["GET"]),
        Route("/api/log/file", pages.add_log, methods=["POST"]),
        Route("/api/phones", pages.phones, methods=["POST"]),
        Route("/api/progress", pages.progress, methods=["POST"]),
        Route("/api/stop", pages.stop, methods=["POST"]),
        Route("/api/kept", pages.kept, methods=["POST"]),
        Route("/api/{question}", pages.question, methods=["POST"]),
        Route("/static/{name}", own_file, methods=["GET"]),
    ]
    return AccessCheck(Starlette(routes=routes, lifespan=opened), door, phones)


class _Pages:
    """What needs the desk, the shelf or who lets phones in."""

    def __init__(self, desk: WorkerPool, shelf: Uploads, doorman: PhoneDesk) -> None:
        self._desk, self._shelf, self._doorman = desk, shelf, doorman

    async def question(self, request: Request) -> Response:
        """Answer one question sent as JSON."""
        return _json(await self._answer(request))

    async def kept(self, request: Request) -> Response:
        """Whether a photo sent before is still here, for a page that was loaded again."""
        given = await _read_question(request)
        if not isinstance(given, dict):
            return _json(given)
        return JSONResponse({"answer": {"kept": self._shelf.holds(given.get("photo"))}})

    async def progress(self, request: Request) -> Response:
        """How far the question of a ticket is."""
        given = await _read_question(request)
        if not isinstance(given, dict):
            return _json(given)
        said = self._desk.told(str(given.get("ticket", "")))
        return JSONResponse({"answer": {"said": said}})

    async def stop(self, request: Request) -> Response:
        """End the question of a ticket; its asker gets what was found so far."""
        given = await _read_question(request)
        if not isinstance(given, dict):
            return _json(given)
        self._desk.stop(str(given.get("ticket", "")))
        return JSONResponse({"answer": {}})

    async def phones(self, request: Request) -> Response:
        """Which phones are in, after what was asked about them has been done."""
        given = await _read_question(request)
        return self._doorman.answer(given) if isinstance(given, dict) else _json(given)

    async def _answer(self, request: Request) -> Reply:
        name = request.path_params["question"]
        if name not in QUESTIONS or name in _WITH_A_FILE:
            return refuse(404, "there is no such question")
        given = await _read_question(request)
        if not isinstance(given, dict):
            return given
        photo, ticket = given.pop("photo", None), given.pop("ticket", "")
        try:
            path = None if photo is None else self._shelf.path(photo)
            return await self._desk.ask(
                name, given, path, request.is_disconnected, ticket=str(ticket)
            )
        except InputError as error:
            return refuse(200, str(error))
        except Exception:
            return report_bug()

    async def photo(self, request: Request) -> Response:
        """Take in a photo sent as it is."""
        if self._shelf.is_full:
            # Who still sends does not hear what is said; who stops is not waited for.
            with suppress(ClientDisconnect, TimeoutError, InputError):
                await read_body(request.stream(), len, MAX_BYTES)
            return _json(refuse(503, "too many photos come in at once; send it again soon"))
        return await self._take_in(request, request.stream())

    async def take(self, request: Request) -> Response:
        """Take up a photo that the run log holds, as if it were sent again."""
        from .questions.log import taken_up  # not before it is needed: it loads the optics

        given = await _read_question(request)
        if not isinstance(given, dict):
            return _json(given)
        try:
            return await self._take_in(request, _parts_of(taken_up(str(given.get("photo", "")))))
        except InputError as error:
            return _json(refuse(200, str(error)))

    async def _take_in(self, request: Request, parts: AsyncIterator[bytes]) -> Response:
        name = ""
        try:
            async with self._shelf.receive(parts) as (name, path):
                status, body = await self._desk.ask("photo", {}, path, request.is_disconnected)
                if status == 200:
                    self._shelf.keep(name, path)
        except InputError as error:
            return _json(refuse(413, f"the photo: {error}"))
        except TimeoutError:
            return _json(TOO_SLOW)
        except ClientDisconnect:
            return _json(refuse(400, "the photo did not come in whole"))
        except Exception as error:
            return self._make_room() if is_full(error) else _json(report_bug())
        if status == NO_ROOM:
            return self._make_room()
        response = _json((status, body))
        response.headers["X-Photo"] = name
        return response

    def _make_room(self) -> Response:
        self._shelf.make_room()
        return _json(refuse(NO_ROOM, f"{FULL}; photos sent before were let go"))

    async def save_log(self, request: Request) -> Response:
        """The run log as one file with its photos, or the piece that is named alone."""
        path, piece = self._shelf.scratch(), request.query_params.get("piece", "")
        status, body = await self._desk.ask(
            "export", {"piece": piece}, path, request.is_disconnected
        )
        if status != 200 or not path.exists():
            path.unlink(missing_ok=True)  # half of a log is none
            return self._make_room() if status == NO_ROOM else _json((status, body))
        name = f"oxhue-{'piece' if piece else 'log'}.zip"
        return FileResponse(path, filename=name, background=BackgroundTask(path.unlink))

    async def add_log(self, request: Request) -> Response:
        """Add a log, or a piece, that was saved."""
        try:
            async with self._shelf.receive(request.stream(), MAX_LOG_BYTES) as (_, path):
                return _json(await self._desk.ask("import", {}, path, request.is_disconnected))
        except InputError as error:
            return _json(refuse(413, f"the log: {error}"))
        except TimeoutError:
            return _json(TOO_SLOW)
        except ClientDisconnect:
            return _json(refuse(400, "the log did not come in whole"))
        except Exception as error:
            return self._make_room() if is_full(error) else _json(report_bug())

    async def preview(self, request: Request) -> Response:
        """The photo, small and upright."""
        return self._file(request, PREVIEW_NAME, "image/jpeg")

    async def map_file(self, request: Request) -> Response:
        """One file of a map of the photo."""
        file = request.path_params["file"]
        if file not in MAP_FILES:
            return _json(refuse(404, "a map has no such file"))
        return self._file(request, f"map/{file}", MAP_FILES[file])

    def _file(self, request: Request, below: str, kind: str) -> Response:
        try:
            path = self._shelf.path(request.path_params["name"]).parent / below
        except InputError as error:
            return _json(refuse(404, str(error)))
        if not path.is_file():
            return _json(refuse(404, "this has not been made yet"))
        return FileResponse(path, media_type=kind)


async def _parts_of(file: Path) -> AsyncIterator[bytes]:
    """A file of ours as if it were streamed in."""
    yield file.read_bytes()


async def _read_question(request: Request) -> dict[str, Any] | Reply:
    """The fields that were sent, or why they are not taken."""
    if request.headers.get("content-type", "").partition(";")[0] != "application/json":
        return refuse(415, "a question is sent as JSON")
    body = bytearray()
    try:
        await read_body(request.stream(), body.extend, MAX_QUESTION_BYTES)
    except ClientDisconnect:
        return refuse(400, "the question did not come in whole")
    except TimeoutError:
        return TOO_SLOW
    except InputError:
        return refuse(413, "the question is too long")
    given = read_json(body)
    return refuse(400, NO_QUESTION) if given is None else given


def _json(reply: Reply) -> Response:
    status, body = reply
    # What is left of a request that came too slowly is not waited for.
    headers = {"Connection": "close"} if status in (408, 503) else None
    return Response(body, status, headers, media_type="application/json")
