"""What a worker process does: it answers questions one by one until its pipe closes."""

from __future__ import annotations

import json
import os
import re
import signal
import sys
import traceback
import warnings
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from multiprocessing.connection import Connection
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, Literal

from ..optics.errors import InputError
from ..optics.files.atomic import is_full
from ..optics.films.notation import forbid_files
from .fields import Fields, name_fields

if TYPE_CHECKING:
    from ..optics.films.materials.nk_table import Material
    from .questions.verb import Verbs

MOST_TABLES, MOST_LETTERS = 8, 200_000  # of a person's own tables of index; letters of each
TABLE_NAME = re.compile(r"(?!\.)[\w.-]{1,60}")
Lane = Literal["quick", "slow"]

BEGUN = "begun"
"""What a worker sends before it answers: from here on the question's own time runs."""


@dataclass(frozen=True)
class Question:
    """One kind of question.

    Attributes
    ----------
    module, function : str
        Where it is answered, below ``questions``.
    lane : {"quick", "slow"}
        Sliders must not wait behind searches.
    limit_s : float
        Longest it may take, once its worker has begun, before the worker is ended [s].
    stoppable : bool
        Whether it is ended when nobody waits for the answer any more.
    takes : tuple of str
        What its function is given, in order: fields, photo, verbs, tell.
    """

    module: str
    function: str
    lane: Lane
    limit_s: float
    stoppable: bool = False
    takes: tuple[str, ...] = ("fields",)

    @property
    def is_lasting(self) -> bool:
        """Whether the same fields get the same answer again: it hangs on no log and no file."""
        return self.module not in ("log", "log_file", "verb")


_PHOTO = ("fields", "photo")


QUESTIONS: dict[str, Question] = {
    "choices": Question("choices", "choices_question", "quick", 30.0),
    "look": Question("look", "look_question", "quick", 20.0),
    "tint": Question("heat", "tint_question", "quick", 20.0),
    "strip": Question("heat", "strip_question", "quick", 20.0),
    "coupons": Question("heat", "coupons_question", "slow", 60.0),
    "kiln": Question("heat", "kiln_question", "quick", 20.0),
    "recipes": Question("heat", "recipes_question", "slow", 30.0),
    "gauge": Question("thickness", "gauge_question", "slow", 60.0, takes=_PHOTO),
    "glance": Question("thickness", "glance_question", "slow", 20.0, takes=_PHOTO),
    "map": Question("thickness", "map_question", "slow", 120.0, True, takes=_PHOTO),
    "photo": Question("photo", "photo_question", "slow", 60.0, takes=_PHOTO),
    "card": Question("photo", "card_question", "slow", 30.0, takes=_PHOTO),
    "row": Question("row", "row_question", "slow", 120.0, True, takes=_PHOTO),
    "assay": Question("assay", "assay_question", "slow", 60.0),
    "expect": Question("assay", "expect_question", "slow", 30.0),
    "design": Question("deposit", "design_question", "slow", 120.0, True, takes=("fields", "tell")),
    "sheet": Question("deposit", "sheet_question", "slow", 60.0),
    "log": Question("log", "log_question", "quick", 10.0),
    "record": Question("log", "record_question", "quick", 10.0, takes=_PHOTO),
    "export": Question("log_file", "export_question", "slow", 60.0, takes=_PHOTO),
    "import": Question("log_file", "import_question", "slow", 60.0, takes=_PHOTO),
    "learn": Question("log", "learn_question", "slow", 120.0),
    "next": Question("log", "next_question", "slow", 120.0),
    "chamber": Question("deposit", "chamber_question", "slow", 30.0),
    "forms": Question("verb", "forms_question", "slow", 30.0, takes=("verbs",)),
    "verb": Question(
        "verb", "verb_question", "slow", 300.0, True, takes=("fields", "photo", "verbs", "tell")
    ),
    "keep": Question(
        "verb", "keep_question", "slow", 60.0, True, takes=("fields", "photo", "verbs", "tell")
    ),
}

WARM_UP: dict[Lane, tuple[tuple[str, dict[str, Any]], ...]] = {
    "quick": (
        ("look", {"stack": "TiO2 45nm / Ti", "ramp": "TiO2 0..10nm / Ti"}),
        ("tint", {"metal": "Ti", "at": "450C", "for": "20min"}),
        ("strip", {"metal": "Ti", "temperatures": 4}),
    ),
    "slow": (
        ("gauge", {"film": "TiO2", "on": "Ti", "seen": ["purple"]}),
        ("gauge", {"film": "TiO2", "on": "Ti", "seen": ["#6a3fa0"], "how": "card"}),
    ),
}
"""What each lane's worker answers while nobody asks yet, so that its tables are made ahead."""


def _warm_to_photos() -> None:
    """Read a small photo with a white card as a person's will be: what that loads is there then."""
    with TemporaryDirectory(prefix="oxhue-warm-") as folder:
        from PIL import Image

        photo = Path(folder) / "photo"
        picture = Image.new("RGB", (240, 160), (128, 128, 128))
        picture.paste((235, 235, 235), (150, 10, 230, 60))
        picture.paste((106, 63, 160), (20, 60, 120, 140))
        picture.save(photo, "JPEG")
        answer("photo", {}, photo)
        film = {"film": "TiO2", "on": "Ti", "white": "170,20,20,20", "patch": "60,90,12,12"}
        for name in ("card", "gauge", "glance"):
            answer(name, film, photo)


def run_worker(pipe: Connection, lane: Lane, warm: bool, verbs: Verbs | None) -> None:
    """Answer what comes through the pipe: the whole life of a worker process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which ends us
    for name in ("OPENBLAS", "MKL", "OMP"):
        os.environ.setdefault(f"{name}_NUM_THREADS", "1")  # the matrices are thin
    os.environ["MPLBACKEND"] = "agg"  # a notebook's may not be installed here
    # A worker starts no processes of its own, so that sliders stay quick beside a search.
    warnings.filterwarnings("ignore", "Loky-backed parallel loops cannot be called")
    ahead: list[Callable[[], object]] = []
    if warm:
        ahead += [partial(answer, *asked) for asked in WARM_UP[lane]]
        ahead += [_warm_to_photos] if lane == "slow" else []
    stop = _StopSignal()
    try:
        while True:
            if ahead and not pipe.poll():  # nobody asks: make tables for when somebody does
                ahead.pop(0)()
            else:
                asked = pipe.recv()
                import_module(f".questions.{QUESTIONS[asked[0]].module}", __package__)
                pipe.send(BEGUN)
                with stop.heeded():
                    found = answer(*asked, verbs=verbs, tell=pipe.send)
                pipe.send(found)
    except (EOFError, OSError):  # the server is gone
        return


class _StopSignal:
    """A signal that ends the work at hand as Ctrl-C would, so that a search gives its best."""

    def __init__(self) -> None:
        self._at_work = False
        if STOP_SIGNAL is not None:
            signal.signal(STOP_SIGNAL, self._take)

    def _take(self, *_: object) -> None:
        if self._at_work:
            self._at_work = False
            raise KeyboardInterrupt

    @contextmanager
    def heeded(self) -> Iterator[None]:
        """Within this the signal counts; one that comes too late is passed over."""
        self._at_work = True
        try:
            yield
        finally:
            self._at_work = False


STOP_SIGNAL: signal.Signals | None = getattr(signal, "SIGUSR1", None)
"""None where the system has no such signal: there stopping ends the worker."""


def answer(
    name: str,
    given: Mapping[str, Any],
    photo: Path | None = None,
    *,
    verbs: Verbs | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> tuple[int, bytes]:
    """The status and the JSON that answer a question.

    Returns
    -------
    tuple of (int, bytes)
        200 with ``answer`` (what the verb prints for ``--json``), ``trusted`` and sometimes
        ``drawing``, or with ``refused``, one sentence: a refusal is an answer, and browsers
        report other statuses as faults of the page. 500 with ``refused`` that tells nothing of
        the inside, which goes to stderr.
    """
    question = QUESTIONS[name]
    try:
        module = import_module(f".questions.{question.module}", __package__)
        ask: Callable[..., dict[str, Any]] = getattr(module, question.function)
        fields = Fields(given)
        held = {"fields": fields, "photo": photo, "verbs": verbs, "tell": tell}
        with forbid_files(tables_sent(fields)):  # a browser must not choose files of this machine
            found = ask(*(held[one] for one in question.takes))
        return 200, json.dumps(found, ensure_ascii=False, allow_nan=False).encode()
    except InputError as error:
        sentence = name_fields(_hide_path(str(error), photo), question.module, name)
        return 200, refusal(sentence)
    except KeyboardInterrupt:
        return 200, refusal("it was stopped before anything was found")
    except MemoryError:
        return 200, refusal("this takes more memory than there is; ask for less")
    except OSError as error:
        if not is_full(error):
            traceback.print_exc(file=sys.stderr)
            return 500, refusal(BUG)
        return NO_ROOM, refusal(FULL)
    except Exception:
        traceback.print_exc(file=sys.stderr)
        return 500, refusal(BUG)


NO_ROOM = 507  # RFC 4918, 11.5: insufficient storage
FULL = "there is no room on the disk for temporary files; make room, then ask again"


def tables_sent(fields: Fields) -> dict[str, Material]:
    """The person's own tables of index, by the name each was sent under."""
    if "tables" not in fields:
        return {}
    from ..optics.films.materials.user_table import read_user_table

    given, found = fields.table("tables"), {}
    if len(given) > MOST_TABLES:
        raise InputError(f"at most {MOST_TABLES} tables are sent with a question")
    with TemporaryDirectory(prefix="oxhue-tables-") as folder:
        for name in given:
            if not TABLE_NAME.fullmatch(name):
                raise InputError(f"a table is named in letters and digits, not {name!r:.60}")
            path = Path(folder) / name
            path.write_text(
                Fields(given).document(name, MOST_LETTERS) or "", encoding="utf-8", newline=""
            )
            found[name] = read_user_table(path)
    return found


BUG = "something went wrong inside oxhue; the terminal it was started from says what"


def refusal(sentence: str) -> bytes:
    """The JSON that says no."""
    return json.dumps({"refused": " ".join(sentence.split())}).encode()


def is_refusal(body: bytes) -> bool:
    """Whether a JSON of ours says no."""
    return body.startswith(b'{"refused"')


def _hide_path(sentence: str, photo: Path | None) -> str:
    """A refusal that does not tell where the photo is kept."""
    if photo is None:
        return sentence
    return sentence.replace(f" {str(photo)!r}", "").replace(str(photo), "the photo")
