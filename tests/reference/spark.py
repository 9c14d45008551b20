"""docs/plant/spark_measure.py on a local cluster of two workers, one of which is killed in the middle: the same rows as one machine gives.

Nothing is stored. TIPSTRIKE names the program (built with --features parquet), PySpark and Java are needed; without them nothing is
checked, and that is said loudly.
"""

import os
import pathlib
import shutil
import signal
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
JOB = "docs/plant/spark_measure.py"
# So slow that a worker can be killed while it measures, and every batch leaves a trace.
SLOW = '#!/bin/sh\necho "$$ $PPID" >> {log}\nsleep 2\nexec {program} "$@"\n'


def plant(folder):
    """The samples as recordings of two cells of one night, each cell's in a folder of its own."""
    rows = (ROOT / "samples/runs.csv").read_text().splitlines()
    sheet = ["file,prep,cell,date"]
    for k, row in enumerate(rows[1:]):
        name, prep = row.split(",")[:2]
        place = folder / f"cell{3 + 4 * (k % 2)}" / f"prep{prep}"
        place.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / "samples" / name, place)
    sheet += [f"cell{cell}/prep{prep}/*.wav,{prep},{cell},2026-03-09" for cell in (3, 7) for prep in "AB"]
    (folder / "runs.csv").write_text("\n".join(sheet) + "\n")
    shutil.copy(ROOT / "samples/job.toml", folder)


class Cluster:
    """A master and two workers of Spark's own, each a process."""

    def __init__(self, folder):
        import pyspark

        self.home = pathlib.Path(pyspark.__file__).parent
        self.environment = os.environ | {"SPARK_HOME": str(self.home), "SPARK_LOCAL_IP": "127.0.0.1", "PYSPARK_PYTHON": sys.executable}
        self.folder = folder
        port = str(20000 + os.getpid() % 20000)
        self.url = f"spark://127.0.0.1:{port}"
        self.master = self.start("master.Master", "--host", "127.0.0.1", "--port", port, "--webui-port", "0")
        self.workers = [self.start("worker.Worker", "--cores", "1", "--memory", "1g", "--webui-port", "0", "-d", str(folder / f"work{k}"), self.url) for k in range(2)]

    def start(self, what, *args):
        command = [self.home / "bin/spark-class", f"org.apache.spark.deploy.{what}", *args]
        log = (self.folder / "cluster.log").open("a")
        return subprocess.Popen(command, env=self.environment, stdout=log, stderr=log)

    def stop(self):
        for process in (*self.workers, self.master):
            process.kill()
            process.wait()


def worker_of(pid, workers):
    """The worker whose executor runs a process: its parents lead there."""
    known = {worker.pid: worker for worker in workers}
    while pid > 1:
        if pid in known:
            return known[pid]
        pid = int(pathlib.Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[1])
    return None


def run_and_kill(folder, cluster):
    """Runs the job, and kills the worker of the second batch that begins."""
    log, slow = folder / "batches.log", folder / "slow.sh"
    slow.write_text(SLOW.format(log=log, program=os.environ["TIPSTRIKE"]))
    slow.chmod(0o755)
    log.touch()
    submit = [cluster.home / "bin/spark-submit", "--master", cluster.url, "--conf", "spark.executor.memory=512m"]
    submit += [ROOT / JOB, folder / "night", folder / "spark", "--job", folder / "night/job.toml", "--batch", "2", "--tipstrike", slow]
    job = subprocess.Popen(list(map(str, submit)), env=cluster.environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    killed = None
    while job.poll() is None and killed is None:
        begun = log.read_text().split("\n")
        if len(begun) > 2:
            killed = worker_of(int(begun[1].split()[1]), cluster.workers)
            assert killed, "the batch runs on no worker"
            kill_with_executors(killed)
        time.sleep(0.1)
    said = job.communicate()[0]
    if job.returncode != 0:
        sys.exit(said[-4000:])
    assert killed, "the job ended before a worker could be killed"
    return len(log.read_text().splitlines())


def kill_with_executors(worker):
    """Ends a worker and all it started, as a machine that loses its power."""
    below = {worker.pid}
    for entry in sorted(pathlib.Path("/proc").glob("[0-9]*"), key=lambda path: int(path.name)):
        try:
            parent = int((entry / "stat").read_text().rsplit(")", 1)[1].split()[1])
        except OSError:
            continue
        if parent in below:
            below.add(int(entry.name))
    for pid in below:
        try:
            os.kill(pid, signal.SIGKILL)
        except ProcessLookupError:
            pass


def rows(folder):
    """The rows of a folder of Parquet but for `run`, which counts within a batch."""
    import duckdb

    table = f"read_parquet('{folder}/**/*.parquet', union_by_name = true, hive_partitioning = true, hive_types = {{'day': DATE, 'cell': VARCHAR}})"
    found = duckdb.execute(f"SELECT * EXCLUDE (run) FROM {table} ORDER BY recording, start").df()
    found["flags"] = found["flags"].map(list)
    return found[sorted(found.columns)]


def main():
    if "TIPSTRIKE" not in os.environ or shutil.which("java") is None:
        print("\n!!! THE SPARK JOB WAS NOT RUN: it takes TIPSTRIKE, a program with Parquet, and Java.\n", file=sys.stderr)
        return
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        plant(folder / "night")
        alone = [os.environ["TIPSTRIKE"], "measure", "night", "--anew", "--parquet", "alone"]
        subprocess.run(alone, cwd=folder, check=True, capture_output=True)
        cluster = Cluster(folder)
        try:
            begun = run_and_kill(folder, cluster)
        finally:
            cluster.stop()
        one, many = rows(folder / "alone"), rows(folder / "spark")
        columns = [name for name in one.columns if name in many.columns]
        assert {"recording", "start_ms", "flags", "cell", "day"} <= set(columns) and len(one) == 40, (columns, len(one))
        assert one[columns].astype(str).equals(many[columns].astype(str)), one[columns].compare(many[columns])
        assert list(one.columns) == list(many.columns), set(one.columns) ^ set(many.columns)
        print(f"{len(many)} starts by Spark as by one machine; a worker was killed, and {begun} batches were begun in all")


main()
