"""Work spread over threads and processes: the same answer whoever does it, and a clean end."""

import os
import signal
import subprocess
import sys
import time

import numpy as np
import pytest

import oxhue.optics.numerics.parallel as room
from oxhue.optics.errors import NotationError
from oxhue.optics.numerics.parallel import child_rng, map_parallel, rng_root


def drawing(root, pause_s=0.0):
    """Work whose answer tells its unit, its random stream and its process."""

    def work(unit):
        import os
        import time

        time.sleep(pause_s)
        return unit, float(child_rng(root, unit).standard_normal()), os.getpid()

    return work


def answers(results):
    return [result[:2] for result in results]


@pytest.fixture
def hasty(monkeypatch):
    """Work is given away after next to no trial."""
    monkeypatch.setattr(room, "TRIAL_S", 1e-6)
    monkeypatch.setattr(room, "_LEAST_S", 1e-6)


@pytest.fixture(params=["with joblib", "without"])
def loaded(request, monkeypatch):
    """Whether anybody has loaded joblib, which threads do without."""
    if request.param == "without":
        monkeypatch.delitem(sys.modules, "joblib", raising=False)
        monkeypatch.setattr(room, "_run_joblib", None)
    else:
        import joblib  # noqa: F401

        monkeypatch.setattr(room, "_run_threads", None)


def test_streams_are_those_numpy_spawns():
    root = rng_root(np.random.default_rng(5))
    spawned = root.spawn(4)
    for i in (0, 3):
        np.testing.assert_array_equal(
            child_rng(root, i).random(3), np.random.default_rng(spawned[i]).random(3)
        )


def test_each_root_is_another_and_hangs_on_the_seed():
    rng, again = np.random.default_rng(5), np.random.default_rng(5)
    first, second = rng_root(rng), rng_root(rng)
    assert child_rng(first, 0).random() != child_rng(second, 0).random()
    assert child_rng(first, 0).random() == child_rng(rng_root(again), 0).random()


@pytest.mark.parametrize("chunk_s", [1e-6, 1e-3, 10.0])
@pytest.mark.parametrize("kind", ["threads", "shared"])
@pytest.mark.usefixtures("hasty", "loaded")
def test_neither_workers_nor_chunks_show_in_the_answer(kind, chunk_s, monkeypatch):
    monkeypatch.setattr(room, "CHUNK_S", chunk_s)
    work = drawing(rng_root(np.random.default_rng(5)), 1e-4)
    alone = answers(map(work, range(70)))
    for workers in (1, 2, 5):
        assert answers(map_parallel(work, range(70), kind=kind, workers=workers)) == alone


@pytest.mark.usefixtures("hasty")
def test_processes_answer_alike_take_one_thread_each_and_pass_errors_on():
    work = drawing(rng_root(np.random.default_rng(5)), 1e-3)
    found = list(map_parallel(work, range(40), kind="processes", workers=2))
    assert answers(found) == answers(map(work, range(40)))
    processes = {pid for *_, pid in found}
    assert os.getpid() in processes  # the first units were timed here
    assert len(processes) > 1

    def threads(_):
        import numpy  # noqa: F401
        from threadpoolctl import threadpool_info

        return os.getpid(), [library["num_threads"] for library in threadpool_info()]

    for _, counts in list(map_parallel(threads, range(20), kind="processes", workers=2)):
        assert set(counts) <= {1}

    def broken(unit):
        if unit == 13:
            raise NotationError("TiO2 45", 5, "expected a unit")
        return unit

    with pytest.raises(NotationError, match="expected a unit") as caught:
        list(map_parallel(broken, range(20), kind="processes", workers=2))
    assert caught.value.position == 5


def test_algebra_takes_one_thread_here_too():
    from threadpoolctl import threadpool_info

    def threads(_):
        return [library["num_threads"] for library in threadpool_info()]

    for counts in map_parallel(threads, range(3)):
        assert set(counts) <= {1}


@pytest.mark.usefixtures("hasty")
def test_what_is_spread_within_a_worker_stays_there():
    def outer(_):
        import oxhue.optics.numerics.parallel as room

        return getattr(room._here, "inside", False), list(
            room.map_parallel(str, [1, 2, 3], workers=4)
        )

    for inside, inner in list(map_parallel(outer, range(12), kind="threads", workers=3))[2:]:
        assert inside
        assert inner == ["1", "2", "3"]


@pytest.mark.parametrize("count", [0, 1, 2])
def test_little_work_is_done_all_the_same(count):
    assert list(map_parallel(str, range(count), workers=4)) == [str(i) for i in range(count)]


def test_small_jobs_start_nobody(monkeypatch):
    def refused(*_):
        raise AssertionError("somebody was started")

    monkeypatch.setattr(room, "_run_together", refused)
    assert sum(map_parallel(int, range(100_000))) == sum(range(100_000))


@pytest.mark.parametrize("kind", ["processes", "threads", "shared"])
def test_the_count_of_workers_follows_what_joblib_is_told(kind, monkeypatch):
    import joblib

    monkeypatch.setattr(room, "START_S", dict.fromkeys(room.START_S, 0.0))
    pace = room._Pace(1000, room.ignore_progress, "", done=10, first_s=0.1, worked_s=1.0)
    assert room._count_helpers(pace, kind, None) == joblib.cpu_count()
    assert room._count_helpers(pace, kind, 3) == 3
    for backend in (None, "threading"):
        with joblib.parallel_config(n_jobs=7, **({"backend": backend} if backend else {})):
            assert room._count_helpers(pace, kind, None) == 7
            assert room._count_helpers(pace, kind, 1) == 1


def test_threads_that_nobody_told_joblib_of_are_as_many_as_the_processor_takes(monkeypatch):
    monkeypatch.delitem(sys.modules, "joblib", raising=False)
    monkeypatch.setenv("OMP_NUM_THREADS", "5")
    pace = room._Pace(1000, room.ignore_progress, "", done=10, first_s=0.1, worked_s=1.0)
    assert room._count_helpers(pace, "threads", None) == 5
    assert room._count_helpers(pace, "shared", 3) == 3
    assert "joblib" not in sys.modules


def test_threads_that_would_be_processes_elsewhere_need_as_much_work(monkeypatch):
    import joblib

    monkeypatch.setattr(room, "START_S", {"threads": 0.0, "shared": 0.0, "processes": 1e9})
    pace = room._Pace(1000, room.ignore_progress, "", done=10, first_s=0.1, worked_s=1.0)
    assert room._count_helpers(pace, "threads", None) == joblib.cpu_count()
    with joblib.parallel_config(backend="loky"):
        assert room._count_helpers(pace, "threads", None) == 1


def test_work_is_given_away_where_signals_cannot_be_held_back(monkeypatch):
    monkeypatch.delattr(signal, "pthread_sigmask", raising=False)
    monkeypatch.setattr(room, "TRIAL_S", 1e-6)
    monkeypatch.setattr(room, "_LEAST_S", 1e-6)
    assert list(map_parallel(str, range(40), kind="threads", workers=2)) == [
        str(i) for i in range(40)
    ]


def test_the_cost_of_a_unit_leaves_out_what_only_the_first_pays():
    pace = room._Pace(100, room.ignore_progress, "")
    pace.time_unit(_be_busy, 0.05)
    assert not pace.is_known
    while not pace.is_known:
        pace.time_unit(_be_busy, 0.002)
    assert 0.002 <= pace.unit_s < 0.05
    assert pace.left_s == pytest.approx(pace.unit_s * (100 - pace.done))


def _be_busy(seconds):
    end = time.process_time() + seconds
    while time.process_time() < end:
        pass


def test_time_spent_waiting_for_a_turn_is_no_work_that_helpers_could_take(monkeypatch):
    clock = iter(np.arange(0.0, 10.0, 0.02))  # passes, as on a machine where others work
    monkeypatch.setattr(room.time, "perf_counter", lambda: float(next(clock)))
    monkeypatch.setattr(room.time, "process_time", lambda: 0.0)
    pace = room._Pace(10_000, room.ignore_progress, "")
    while not pace.is_known:
        pace.time_unit(len, "")
    assert pace.left_s < 10_000 * 0.002


def test_progress_is_told_now_and_then_once_it_takes_a_second(monkeypatch):
    clock = iter(np.arange(0.0, 1000.0, 0.1))
    monkeypatch.setattr(room.time, "monotonic", lambda: float(next(clock)))
    told = []
    list(map_parallel(str, range(100), report=told.append, what="painting dials"))
    shares = [int(text.split()[2]) for text in told]
    assert told[0] == "painting dials: 10 %, 9 s to go"
    assert shares == sorted(set(shares))
    assert len(told) < 40
    told.clear()
    list(map_parallel(str, range(9), report=told.append))
    assert told == []


@pytest.mark.usefixtures("hasty")
def test_what_a_helper_had_when_it_was_killed_is_done_here():
    home = os.getpid()

    def deadly(unit):
        import os

        if unit == 25 and os.getpid() != home:
            os._exit(1)
        return unit, os.getpid()

    found = list(map_parallel(deadly, range(60), kind="processes", workers=2))
    assert [unit for unit, _ in found] == list(range(60))
    assert found[-1][1] == home


@pytest.mark.usefixtures("hasty", "loaded")
@pytest.mark.parametrize("kind", ["threads", "shared"])
def test_threads_pass_errors_on(kind):
    def broken(unit):
        if unit == 17:
            raise ArithmeticError("unit 17")
        return unit

    with pytest.raises(ArithmeticError, match="unit 17"):
        list(map_parallel(broken, range(20), kind=kind, workers=2))


@pytest.mark.usefixtures("hasty", "loaded")
def test_a_reader_that_has_enough_ends_the_work():
    results = map_parallel(
        drawing(rng_root(np.random.default_rng(1)), 1e-3), range(1000), kind="threads", workers=3
    )
    assert [next(results)[0] for _ in range(50)] == list(range(50))
    results.close()  # any warning would fail the test


INTERRUPTED = """
import signal, sys, time
from pathlib import Path
import oxhue.optics.numerics.parallel as room
from oxhue.optics.files.atomic import write_atomically
signal.signal(signal.SIGINT, signal.default_int_handler)
room.TRIAL_S = 1e-6
def work(unit):
    import time
    time.sleep(0.02)
    return unit
def rows(stream):
    for unit in room.map_parallel(work, range(5000), kind="processes", workers=2):
        stream.write(f"{unit}\\n".encode())
        if unit == int(sys.argv[2]):
            print("ready", flush=True)
try:
    write_atomically(Path(sys.argv[1]), rows)
except KeyboardInterrupt:
    sys.exit(130)
"""


def living(group):
    """Processes of a group that are still there."""
    found = subprocess.run(
        ["ps", "-A", "-o", "pgid=,stat="], capture_output=True, text=True, check=True
    )
    rows = [line.split() for line in found.stdout.splitlines()]
    return [state for pgid, state in rows if int(pgid) == group and not state.startswith("Z")]


@pytest.mark.skipif(os.name != "posix", reason="signals as Unix has them")
@pytest.mark.parametrize(
    ("sign", "unit"),
    [("SIGINT", 1), pytest.param("SIGINT", 60, marks=pytest.mark.slow), ("SIGKILL", 60)],
    ids=str,
)
def test_an_end_before_time_leaves_no_worker_and_no_half_file(sign, unit, tmp_path):
    command = [sys.executable, "-c", INTERRUPTED, str(tmp_path / "rows.csv"), str(unit)]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    with subprocess.Popen(command, **pipes, start_new_session=True) as started:
        assert started.stdout.readline() == "ready\n"
        if sign == "SIGINT":  # a terminal sends it to the whole group
            os.killpg(started.pid, signal.SIGINT)
            _, err = started.communicate(timeout=60)
            assert started.returncode == 130
            assert err == ""
            assert list(tmp_path.iterdir()) == []
        else:
            started.kill()
    wait_until = time.monotonic() + 20.0
    while living(started.pid) and time.monotonic() < wait_until:
        time.sleep(0.1)
    assert living(started.pid) == []
