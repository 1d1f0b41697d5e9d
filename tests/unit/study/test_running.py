"""Running plans: nothing lost, nothing done twice, whatever dies on the way."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from motor.base.errors import InvalidInput, MachineError, MeshError, OutputError, SolveError
from motor.results.motor_result import solve
from motor.study import running
from motor.study.evaluate import job_of, solve_jobs
from motor.study.plan import Plan, values
from motor.study.processes import Engine, Here, Lost, Processes
from motor.study.rules import tie
from motor.study.running import demand_all, plan_digest, read_rows, run
from motor.study.store import Store
from tests.unit.study.plans import ferrite, small_plan, without_time

ROOT = Path(__file__).parents[3]
KILLS = 20
ROUNDING = 1e-9
SHORT = 0.003
"""Seconds in which a worker takes up its task, much shorter than the task."""
SINGLE = os.environ | {"OPENBLAS_NUM_THREADS": "1"}


class Counting(Here):
    """Solves here and counts designs."""

    def __init__(self) -> None:
        super().__init__()
        self.solved = 0

    def submit(self, number, task):
        self.solved += len(task)
        super().submit(number, task)


class Deadly(Here):
    """An engine whose workers die of some designs, as often as told."""

    def __init__(self, deadly: str, deaths: int) -> None:
        super().__init__()
        self.deadly, self.deaths, self.tasks = deadly, deaths, []

    def collect(self):
        number, task = self._waiting.popleft()
        self.tasks.append(len(task))
        if self.deaths and any(job.fingerprint == self.deadly for job in task):
            self.deaths -= 1
            return [(number, Lost("the worker died (exit code -9)"))]
        return [(number, solve_jobs(task))]


class Killing(Processes):
    """Two workers that are killed, once and both, while each has a task it has not finished."""

    def __init__(self) -> None:
        super().__init__(2)
        self.killed: list[int] = []
        self._armed = False

    def warm_up(self, job):
        """Have each worker solve a design, so that none is still starting from here on."""
        for number in range(2):
            self.submit(number, (job,))
        found: list[int] = []
        while len(found) < 2:
            found += [number for number, _ in self.collect()]
        self._armed = True

    def _hand_out(self):
        super()._hand_out()
        busy = [worker for worker in self._crew if worker.number is not None]
        if not self._armed or len(busy) < 2:
            return
        time.sleep(SHORT)
        pids = [worker.process.pid for worker in busy]
        for pid in pids:
            os.kill(pid, signal.SIGSTOP)
            os.waitpid(pid, os.WUNTRACED)
        if any(worker.pipe.poll() for worker in busy):  # one has finished: at the next tasks
            for pid in pids:
                os.kill(pid, signal.SIGCONT)
            return
        self._armed, self.killed = False, pids
        for worker in busy:
            worker.process.kill()
            worker.process.join()


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> tuple[Path, list]:
    """Return the store and rows of the small plan, run without disturbance."""
    store = tmp_path_factory.mktemp("whole") / "s.sqlite"
    done = run(small_plan(), store, engine=Here())
    assert (done.points, done.impossible, done.solved, done.reused) == (12, 3, 9, 0)
    return store, read_rows(store, small_plan())


def attempts(store: Path) -> list[int]:
    base = sqlite3.connect(store)
    found = [row[0] for row in base.execute("SELECT attempts FROM designs ORDER BY attempts")]
    base.close()
    return found


def test_sweep_equals_single_solves_to_rounding(whole):
    rows = whole[1]
    designs = [point.design for point in small_plan().points()]
    for row, design in list(zip(rows, designs, strict=True))[::4]:
        assert design is not None
        alone = solve(design).summary()
        for key in ("bl_at_rest_Tm", "stroke_82_mm", "bl_at_rest_uncertainty_Tm", "motor_mass_g"):
            assert row.results[key] == pytest.approx(alone[key], rel=ROUNDING)
    assert "stay clear" in rows[3].error or "clear" in rows[3].error


def test_a_second_run_solves_nothing_and_a_larger_plan_only_what_is_new(whole, tmp_path):
    store = tmp_path / "s.sqlite"
    first = Counting()
    run(small_plan(), store, engine=first)
    again = Counting()
    done = run(small_plan(), store, engine=again)
    assert (first.solved, again.solved, done.reused) == (9, 0, 9)
    more = Counting()
    run(small_plan(heights=5), store, engine=more)
    assert more.solved == 3
    assert without_time(read_rows(store, small_plan())) == without_time(whole[1])


def test_progress_counts_every_point_to_the_end(tmp_path):
    seen: list[tuple[int, int]] = []
    run(small_plan(), tmp_path / "s", engine=Here(), progress=lambda d, t: seen.append((d, t)))
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)
    assert seen[-1] == (12, 12)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_killed_twenty_times_ends_like_a_run_that_was_not(tmp_path):
    store, other = tmp_path / "killed.sqlite", tmp_path / "whole.sqlite"
    for path, kills in ((store, KILLS), (other, 0)):
        command = [sys.executable, "-m", "tests.unit.study.victim", str(path), str(kills)]
        found = subprocess.run(command, cwd=ROOT, env=SINGLE, capture_output=True, text=True)
        assert found.returncode == 0, found.stderr
        if kills:
            assert int(found.stdout) > KILLS // 2
    plan = small_plan(4, 6)
    assert without_time(read_rows(store, plan)) == without_time(read_rows(other, plan))
    assert attempts(store) == attempts(other) == [1] * 20


def test_killed_workers_are_replaced_and_their_designs_retried(tmp_path):
    store, other, plan = tmp_path / "s.sqlite", tmp_path / "other.sqlite", small_plan(depths=8)
    run(plan, other, engine=Here())
    engine = Killing()
    try:
        engine.warm_up(job_of(ferrite()))
        run(plan, store, engine=engine)
    finally:
        engine.close()
    assert len(set(engine.killed)) == 2
    assert attempts(store) == [1] * 18 + [2] * 6
    for row, right in zip(read_rows(store, plan), read_rows(other, plan), strict=True):
        assert row.error == right.error
        if right.results is not None:
            assert row.results is not None
            key = "bl_at_rest_Tm"
            assert row.results[key] == pytest.approx(right.results[key], rel=ROUNDING)
    assert engine._crew == []


@pytest.mark.parametrize("deaths", [1, 2])
def test_a_design_whose_worker_dies_is_retried_once_alone(tmp_path, deaths: int):
    store = tmp_path / "s.sqlite"
    plan = Plan(ferrite(), (values("coil.layers", [1, 2]),))
    with Store(tmp_path / "unused"):
        pass
    jobs = [job_of(point.design) for point in plan.points() if point.design]
    engine = Deadly(jobs[0].fingerprint, deaths)
    done = run(plan, store, engine=engine)
    assert sorted(engine.tasks) == [1, 1, 2]
    rows = read_rows(store, plan)
    assert rows[1].results is not None
    if deaths == 1:
        assert rows[0].results is not None
    else:
        assert rows[0].results is None
        assert rows[0].error == "not solved yet"
        assert done.missing == {"the worker died (exit code -9)": 1}
    assert attempts(store) == [2] * (3 - deaths)
    again = Counting()
    run(plan, store, engine=again)
    assert again.solved == deaths - 1
    assert all(row.results is not None for row in read_rows(store, plan))


class Hung(Processes):
    """Workers that are stopped as soon as they have a task, as often as told."""

    def __init__(self, times: int) -> None:
        super().__init__(1, limit=5.0)
        self.times = times

    def _hand_out(self):
        super()._hand_out()
        for worker in self._crew:
            if worker.number is not None and self.times:
                self.times -= 1
                while not worker.started:
                    assert self._heard(worker) == []
                os.kill(worker.process.pid, signal.SIGSTOP)


@pytest.mark.parametrize("times", [1, 2])
def test_a_hung_worker_is_ended_at_the_time_limit(tmp_path, times: int):
    plan, store = Plan(ferrite(), (values("coil.layers", [2]),)), tmp_path / "s.sqlite"
    engine = Hung(times)
    try:
        done = run(plan, store, engine=engine)
        words = "the worker was ended at the time limit of 5 s a design"
        assert done.missing == ({words: 1} if times == 2 else {})
        assert run(plan, store, engine=engine).solved == times - 1
    finally:
        engine.close()


@pytest.mark.parametrize(
    "error", [MemoryError(), OSError(28, "No space left on device"), ImportError("gone")]
)
def test_failures_of_the_machine_are_said_and_tried_again(tmp_path, monkeypatch, error):
    import motor.study.evaluate

    def wrong(*_args, **_named):
        raise MeshError("gmsh could not mesh the section") from error

    plan, store = small_plan(), tmp_path / "s.sqlite"
    with monkeypatch.context() as patch:
        patch.setattr(motor.study.evaluate, "solved_field", wrong)
        done = run(plan, store, engine=Here())
    assert done.missing == {"gmsh could not mesh the section": 9}
    assert done.solved == 0
    with pytest.raises(MachineError, match="9 designs have no result because the machine failed"):
        demand_all(done.missing)
    again = run(plan, store, engine=Here())
    assert (again.solved, again.missing) == (9, {})


def test_an_unguarded_script_is_told_what_to_do(tmp_path):
    script = tmp_path / "script.py"
    script.write_text(
        "from motor.study.running import run\nfrom tests.unit.study.plans import small_plan\n"
        f"run(small_plan(), {str(tmp_path / 's.sqlite')!r}, workers=1)\n"
    )
    found = subprocess.run(
        [sys.executable, str(script)],
        env=SINGLE | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert found.returncode == 1
    assert 'must do so under  if __name__ == "__main__":' in found.stderr


def test_two_runs_on_one_store_do_not_harm_it(tmp_path):
    store, other = tmp_path / "s.sqlite", tmp_path / "other.sqlite"
    command = [sys.executable, "-m", "tests.unit.study.victim"]
    both = [
        subprocess.Popen(
            [*command, str(store), "2"], cwd=ROOT, env=SINGLE, stdout=subprocess.DEVNULL
        )
        for _ in range(2)
    ]
    assert [process.wait() for process in both] == [0, 0]
    plan = small_plan(4, 6)
    run(plan, other, engine=Here())
    rows, right = read_rows(store, plan), read_rows(other, plan)
    assert [row.error for row in rows] == [row.error for row in right]
    for row, wanted in zip(rows, right, strict=True):
        if wanted.results is not None:
            assert row.results is not None
            assert row.results["bl_at_rest_Tm"] == pytest.approx(
                wanted.results["bl_at_rest_Tm"], rel=ROUNDING
            )
    base = sqlite3.connect(store)
    assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    base.close()


def test_two_runs_at_once_share_the_designs(tmp_path):
    with ThreadPoolExecutor(2) as pool:
        made = [pool.submit(run, small_plan(), tmp_path / "s", engine=Counting()) for _ in range(2)]
        runs = [one.result() for one in made]
    assert sum(one.solved for one in runs) == 9
    assert [one.solved + one.reused for one in runs] == [9, 9]


def test_what_another_run_leaves_is_taken_up(tmp_path, monkeypatch):
    plan, path = small_plan(), tmp_path / "s"
    keys = [job_of(point.design).fingerprint for point in plan.points() if point.design]
    other = Store(path)
    assert len(other.claim(keys).ours) == 9
    slept: list[float] = []

    def sleep(seconds: float) -> None:
        slept.append(seconds)
        other.release(keys[: 3 * len(slept)])

    monkeypatch.setattr(running.time, "sleep", sleep)
    assert run(plan, path, engine=Here()).solved == 9
    assert len(slept) == 3
    other.close()


def test_a_worker_of_another_version_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(running, "code_digest", lambda: "another")
    with pytest.raises(SolveError, match="another version"):
        run(small_plan(), tmp_path / "s.sqlite", engine=Here())


def test_a_store_that_cannot_be_made_ends_the_run(tmp_path):
    with pytest.raises(OutputError, match="could not be used"):
        run(small_plan(), tmp_path / "missing" / "s.sqlite", engine=Here())


def test_workers_must_be_a_number():
    for count in (0, -1, True):
        with pytest.raises(InvalidInput, match="workers must be a whole number"):
            Processes(count)
    engine: Engine = Processes(3)
    assert engine.workers == 3


def test_plans_are_told_apart_by_values_and_rules():
    def plan(times: float, height: str = "9 mm") -> Plan:
        rule = tie("geometry.top_plate_thickness", "geometry.gap_depth", times=times)
        return Plan(ferrite(), (values("coil.winding_height", [height]),), (rule,))

    digests = {plan_digest(p) for p in (plan(1.0), plan(1.0), plan(1.1), plan(1.0, "10 mm"))}
    assert len(digests) == 3
