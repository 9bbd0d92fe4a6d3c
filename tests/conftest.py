"""What holds for all tests: paths, threads, started programs, and who shares what is made once."""

import gc
import os
import sys
import tomllib
from collections import Counter
from pathlib import Path

import pytest

# The benchmarks are tested too; they lie beside the packages and are not installed.
sys.path.append(str(Path(__file__).parents[1]))

# Read when numpy is first loaded. The matrices here are thin, and on a busy machine threads that
# wait for each other take several times the time of one.
for library in ("OPENBLAS", "MKL", "OMP"):
    os.environ.setdefault(f"{library}_NUM_THREADS", "1")

# Thousands of tests are kept at hand; looking through them for rubbish after every 700 new objects
# takes a quarter of the time to collect them.
gc.set_threshold(50_000, 10, 10)

LONG = ("test_fit", "test_environments", "test_assay", "test_learning", "test_changes",
        "test_known", "test_grammars", "test_statements")  # fmt: skip
"""Files that take more than ten seconds."""
QUICK_CASES = tomllib.loads(
    Path(__file__).with_name("quick_cases.toml").read_text(encoding="utf-8")
)
quick = Counter()


def pytest_configure(config):
    """Where the environment forbids bytecode in the tree, it is kept with the cache of the tests.

    Each worker and each started program would compile the package and its libraries again, which
    takes longer than most of their answers; and each worker would rewrite all assertions.
    """
    cache = getattr(config, "cache", None)
    if cache and os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):
        kept = os.environ.setdefault("PYTHONPYCACHEPREFIX", str(cache.mkdir("bytecode")))
        sys.dont_write_bytecode, sys.pycache_prefix = False, kept


def pytest_itemcollected(item):
    """The first cases of a test that takes long stay quick, the others do not."""
    file = item.path.relative_to(Path(__file__).parent).as_posix()
    most = QUICK_CASES.get(file, {}).get(getattr(item, "originalname", ""))
    if most is None or item.get_closest_marker("slow"):
        return
    quick[file, item.originalname] += 1
    if quick[file, item.originalname] > most:
        item.add_marker("slow")


def pytest_collection_finish():
    gc.freeze()


@pytest.fixture(autouse=True)
def charts_as_others_draw_them():
    """A verb run in a test leaves charts as our own programs have them: none reads a formula."""
    yield
    if drawing := sys.modules.get("matplotlib"):
        drawing.rcParams["text.parse_math"] = True


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items):
    """Files that take long come first, or one worker would end with them and one with nothing.

    They are those of the page, which wait for browsers, and some others; the rest stay as drawn.
    """
    items.sort(key=lambda item: "page" not in item.path.parts and item.path.stem not in LONG)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """All tests of a file run in one worker: browser, fits and sweeps they share are made once."""
    from xdist.scheduler import LoadFileScheduling

    config.option.loadscopereorder = False  # by number of tests, which says little of their time
    return LoadFileScheduling(config, log)
