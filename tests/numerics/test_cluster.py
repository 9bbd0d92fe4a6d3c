"""Work spread over a Dask cluster of two processes on this machine, and what may go amiss there."""

import json
import os
import socket
import subprocess
import sys
import threading
import time
from concurrent.futures import CancelledError
from contextlib import contextmanager, nullcontext, suppress
from importlib import import_module
from importlib.util import find_spec
from types import SimpleNamespace

import numpy as np
import pytest

import oxhue.optics.numerics.parallel as room
from oxhue.cli.main import exit_code
from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.merit import make_merit
from oxhue.optics.design.tolerance import DepositionErrors, simulate
from oxhue.optics.errors import InputError, NotationError
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.numerics import cluster as door
from oxhue.optics.numerics.cluster import on_cluster
from oxhue.optics.numerics.parallel import child_rng, map_parallel, rng_root

pytestmark = pytest.mark.skipif(find_spec("distributed") is None, reason="no Dask here")

PATIENCE_S = 60.0  # for whatever should take a second or two, on a machine that is busy


def start(module, *arguments):
    command = [sys.executable, "-m", f"distributed.cli.{module}", *arguments, "--no-dashboard"]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


@contextmanager
def running(folder, workers, threads):
    """A scheduler and workers: address, scheduler, workers."""
    where = folder / "scheduler.json"
    common = ["--scheduler-file", str(where), "--host", "127.0.0.1"]
    begun = [start("dask_scheduler", *common, "--port", "0")]
    begun += [
        start(
            "dask_worker",
            *common,
            "--nthreads",
            str(threads),
            "--no-nanny",
            "--local-directory",
            str(folder),
        )
        for _ in range(workers)
    ]
    try:
        yield found(where), begun[0], begun[1:]
    finally:
        for process in begun:
            process.kill()
            process.wait()


def found(where):
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        try:
            return json.loads(where.read_text(encoding="utf-8"))["address"]
        except (OSError, ValueError):
            time.sleep(0.05)
    raise TimeoutError("the scheduler did not start")


@contextmanager
def pair(folder):
    """Address of a scheduler with two workers, and the workers."""
    with running(folder, 2, 1) as (address, _, workers):
        from distributed import Client

        with Client(address, timeout=PATIENCE_S, set_as_default=False) as client:
            client.wait_for_workers(2, timeout=PATIENCE_S)
        yield address, workers


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    with pair(tmp_path_factory.mktemp("cluster")) as (address, _):
        yield address


@pytest.fixture(autouse=True)
def eager(monkeypatch):
    """Work is given away however little it is, in many chunks."""
    monkeypatch.setattr(room, "TRIAL_S", 1e-6)
    monkeypatch.setattr(room, "START_S", dict.fromkeys(room.START_S, 0.0))
    monkeypatch.setattr(room, "CHUNK_S", 0.1)


def drawing(root, pause_s=0.0):
    ballast = np.arange(20_000.0)  # as much as a table that every unit needs

    def work(unit):
        import os
        import time

        end = time.process_time() + pause_s  # waiting would not count as work
        while time.process_time() < end:
            pass
        return unit, float(child_rng(root, unit).standard_normal() + ballast[unit]), os.getpid()

    return work


@pytest.mark.slow
def test_a_cluster_gives_the_numbers_of_one_worker_and_passes_errors_on(cluster):
    palette = [parse_medium("n=1.38"), parse_medium("n=2.35")]
    merit = make_merit(parse_stack("n=1.52"), palette, [parse_goal("R<1% 420..680nm")])
    design = np.array([0, 1, 0]), np.array([98.0, 115.0, 33.0])
    errors = DepositionErrors(2.0, 0.5, 0.5, 1.0, 1.0)
    serial = simulate(
        merit, *design, errors=errors, samples=30_000, rng=np.random.default_rng(3), workers=1
    )
    work = drawing(rng_root(np.random.default_rng(3)), 0.001)

    def refusing(unit):
        if unit > 50:
            raise NotationError("TiO2 45", 5, "expected a unit")

    with on_cluster(cluster, PATIENCE_S):
        there = simulate(
            merit, *design, errors=errors, samples=30_000, rng=np.random.default_rng(3)
        )
        results = list(map_parallel(work, range(200)))
        with pytest.raises(NotationError, match="expected a unit"):
            list(map_parallel(refusing, range(200)))
    assert there.yield_share == serial.yield_share
    assert there.goal_shares == serial.goal_shares
    assert [row[:2] for row in results] == [work(i)[:2] for i in range(200)]
    assert len({pid for *_, pid in results} - {os.getpid()}) == 2


@pytest.mark.slow
def test_the_command_line_answers_alike(cluster, capsys):
    design = ["design", "--on", "n=1.52", "--goal", "R<1.6% 550nm", "--with", "n=1.38"]
    few = ["--max-layers", "1", "--effort", "2", "--designs", "1", "--json"]
    command = [*design, *few, "--tolerance", "9%", "--samples", "20000"]
    assert exit_code([*command, "--cluster", cluster]) == 0
    there = capsys.readouterr()
    assert exit_code(command) == 0
    assert there == capsys.readouterr()
    assert there.err == ""
    assert 0.1 < json.loads(there.out)["designs"][0]["yield"] < 0.99


@pytest.mark.slow
def test_a_worker_lost_during_the_work_loses_and_doubles_nothing(tmp_path):
    work = drawing(rng_root(np.random.default_rng(3)), 0.01)
    gone = []

    with pair(tmp_path) as (address, workers):

        def report(_):
            if not gone:
                workers[0].kill()
                gone.append(workers[0].wait())

        begin = time.monotonic()
        with on_cluster(address, PATIENCE_S):
            results = list(map_parallel(work, range(400), report=report))
    assert gone  # it was told of the work's progress before its end
    expected = drawing(rng_root(np.random.default_rng(3)))
    assert [row[:2] for row in results] == [expected(i)[:2] for i in range(400)]
    assert time.monotonic() - begin < PATIENCE_S


@pytest.mark.slow
def test_a_scheduler_lost_during_the_work_is_said_in_one_sentence(tmp_path):
    with running(tmp_path, 1, 2) as (address, scheduler, _):
        work = drawing(rng_root(np.random.default_rng(3)), 0.02)
        begin = time.monotonic()
        with (
            pytest.raises(InputError, match=f"cluster at {address} was lost during the work"),
            on_cluster(address, 2.0),
        ):
            list(map_parallel(work, range(2000), report=lambda _: scheduler.kill()))
        assert time.monotonic() - begin < PATIENCE_S


@contextmanager
def talking(words):
    """A port at which somebody listens, who says these words and is no Dask."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        kept = []

        def serve():
            with suppress(OSError):
                while True:
                    kept.append(server.accept()[0])
                    kept[-1].sendall(words)

        threading.Thread(target=serve, daemon=True).start()
        yield server.getsockname()[1]
        for connection in kept:
            connection.close()


@pytest.mark.parametrize("words", [None, b"", b"SSH-2.0 or so, and more of the like\r\n" * 9])
def test_where_no_scheduler_answers_the_wait_is_short_and_one_sentence_says_so(words):
    with talking(words or b"") as port:
        address = f"tcp://127.0.0.1:{1 if words is None else port}"
        import_module("distributed")  # loading it is no waiting
        begin = time.monotonic()
        with (
            pytest.raises(InputError, match=f"no Dask scheduler answers at {address} within 0.5 s"),
            on_cluster(address, 0.5),
        ):
            raise AssertionError("nobody is there")
        assert time.monotonic() - begin < 10.0


def test_the_command_line_refuses_a_cluster_out_of_reach(capsys, monkeypatch):
    monkeypatch.setattr(door.on_cluster.__wrapped__, "__defaults__", (0.5,))
    command = ["design", "--on", "glass", "--goal", "R>88% 550nm", "--with", "Al"]
    assert exit_code([*command, "--cluster", "tcp://127.0.0.1:1"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert "no Dask scheduler answers at tcp://127.0.0.1:1" in err


@pytest.mark.parametrize("address", ["nonsense", "tcp://host", "http://host:8786", "tcp://:1", ""])
def test_what_is_no_address_is_refused(address):
    with pytest.raises(InputError, match="is no address; write tcp://"), on_cluster(address):
        raise AssertionError("there is none")


def test_a_cluster_needs_its_engine_and_its_certificates(monkeypatch):
    with pytest.raises(InputError, match="needs the certificates"), on_cluster("tls://host:1"):
        raise AssertionError("there are none")
    monkeypatch.setitem(sys.modules, "distributed", None)
    with (
        pytest.raises(InputError, match=r"pip install 'oxhue\[cluster\]'"),
        on_cluster("tcp://host:1", trusted=True),
    ):
        raise AssertionError("there is none")


@pytest.mark.parametrize(
    ("address", "is_open"),
    [
        ("tcp://192.168.7.10:8786", True), ("tcp://localhost.example:1", True),
        ("tcp://127.0.0.1.example:1", True), ("tcp://[fe80::1]:1", True), ("tcp://0.0.0.0:1", True),
        ("tls://192.168.7.10:8786", False), ("tcp://localhost:1", False),
        ("tcp://127.0.0.1:8786", False), ("tcp://[::1]:1", False), ("nonsense", False),
    ],
)  # fmt: skip
def test_another_machine_in_the_open_is_no_cluster_unless_trusted(address, is_open, monkeypatch):
    assert door.is_open(address) == is_open
    asked = []
    monkeypatch.setattr(door, "_identity", lambda *_: asked.append(address))
    if is_open:
        with (
            pytest.raises(InputError, match="can run any program on this machine; use tls://"),
            on_cluster(address),
        ):
            raise AssertionError("it is not trusted")
        assert asked == []


def test_whom_one_trusts_is_said_before_anyone_is_asked(capsys, monkeypatch):
    command = ["design", "--on", "glass", "--goal", "R>88% 550nm", "--with", "Al"]
    assert exit_code([*command, "--cluster", "tcp://192.0.2.1:9"]) == 2
    assert "or state --trusted" in capsys.readouterr().err
    monkeypatch.setattr(door, "_connect", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        exit_code([*command, "--cluster", "tcp://192.0.2.1:9", "--trusted"])
    warned = "oxhue: whoever answers at tcp://192.0.2.1:9 can run any program on this machine\n"
    assert capsys.readouterr().err == warned
    assert exit_code([*command, "--trusted"]) == 2


class Client:
    """A cluster whose workers have what they have."""

    def __init__(self, versions):
        self.versions = versions

    def wait_for_workers(self, count, timeout):
        if len(self.versions) < count:
            raise TimeoutError(timeout)

    def run(self, *_, on_error):
        assert on_error == "return"
        return self.versions


@pytest.mark.parametrize(
    ("versions", "sentence"),
    [
        ({}, "at tcp://x:1 has no workers"),
        ({"tcp://x:2": "0.0.1"}, "worker tcp://x:2 of the cluster has oxhue 0.0.1; install oxhue"),
        ({"tcp://x:2": ImportError("oxhue")}, "worker tcp://x:2 of the cluster has no oxhue"),
    ],
)
def test_workers_must_be_there_and_of_our_kind(versions, sentence):
    with pytest.raises(InputError, match=sentence):
        door._check_workers(Client(versions), "tcp://x:1", 0.1)


def killed():
    from distributed import KilledWorker

    return KilledWorker("unit-3", None, [])


@pytest.mark.parametrize(
    ("fault", "sentence"),
    [
        (killed, "ended worker after worker at tcp://x:1"),
        (lambda: ConnectionError("gone"), "cluster at tcp://x:1 was lost during the work"),
        (lambda: CancelledError("gone"), "cluster at tcp://x:1 was lost during the work"),
    ],
)
def test_what_ends_the_work_there_is_one_sentence_and_the_door_is_shut(
    fault, sentence, monkeypatch
):
    shut = []
    client = SimpleNamespace(close=lambda **how: shut.append(how))
    monkeypatch.setattr(door, "_connect", lambda *_: client)
    monkeypatch.setattr("joblib.parallel_config", lambda **_: nullcontext())
    with pytest.raises(InputError, match=sentence), on_cluster("tcp://x:1", 3.0):
        raise fault()
    assert shut == [{"timeout": 3.0}]
