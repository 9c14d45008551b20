"""Measures recordings on the workers of a Spark cluster and writes the starts as the partitioned Parquet of docs/plant.md.

    spark-submit docs/plant/spark_measure.py lastnight plant --job job/job.toml --prep A

Every worker sees the recordings and has `tipstrike`; nothing else is installed there. A batch is measured by one run of `tipstrike
measure`. A worker that dies loses its batches, and Spark gives them to another: measuring twice gives the same rows. The days and
cells that were measured are replaced as wholes when all is done, so give it all recordings of a day.
"""

import argparse
import json
import pathlib
import subprocess
import tempfile

from pyspark.sql import SparkSession
from pyspark.sql import types as t

ENDINGS = (".wav", ".csv", ".csv.gz", ".txt")
TEXT = {"recording", "prep", "tip_id", "coupon", "cell", "shift", "date", "exclude", "doubt", "verdict"}
COUNTS = {"run", "start", "attempts", "dropouts", "touches", "missed_halfcycles", "since_regrind"}


def asked():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("recordings", type=pathlib.Path, help="folder of recordings, with the folders in it")
    parser.add_argument("table", help="folder of the Parquet table, or its address in an object store")
    parser.add_argument("--job", type=pathlib.Path, required=True, help="job file whose logger, measuring and preps serve them")
    parser.add_argument("--prep", help="their prep, where no run sheet tells it")
    parser.add_argument("--batch", type=int, default=200, help="recordings that are measured by one run of tipstrike")
    parser.add_argument("--tipstrike", default="tipstrike", help="the program on the workers")
    return parser.parse_args()


def batches(folder, most):
    """Where recordings lie in the folder, and at most so many of them: of one folder, where their names tell them apart."""
    by_folder = {}
    for path in sorted(folder.rglob("*")):
        if path.is_file() and path.name.lower().endswith(ENDINGS) and path.name != "runs.csv":
            by_folder.setdefault(path.parent, []).append(str(path.resolve()))
    where = {place: "" if place == folder else place.relative_to(folder).as_posix() + "/" for place in by_folder}
    return [(where[place], paths[k : k + most]) for place, paths in by_folder.items() for k in range(0, len(paths), most)]


def measured(batch, command):
    """The rows of a batch, each a cell by column; on a worker."""
    where, paths = batch
    # With --parquet every start has a date: by the sheet, its recording or the time of the file.
    with tempfile.TemporaryDirectory() as aside:
        run = subprocess.run([*command, "--parquet", aside, *paths], capture_output=True, text=True)
    # 3: some recordings could not be read; the others were measured, and stderr names them.
    if run.returncode not in (0, 3):
        raise RuntimeError(run.stderr)
    # Numbers stay as they are written: what a column holds is decided by its name.
    rows = [json.loads(line, parse_int=str, parse_float=str) for line in run.stdout.splitlines()]
    return [row | {"recording": where + row["recording"]} for row in rows]


def type_of(column, fixed):
    """Counts are BIGINT, flags a list, `lit` true or false, other measures doubles; the sheet's columns are text."""
    if column in TEXT or column not in fixed:
        return t.StringType()
    if column == "flags":
        return t.ArrayType(t.StringType())
    return t.LongType() if column in COUNTS else t.BooleanType() if column == "lit" else t.DoubleType()


def cell(value, kind):
    if value is None or isinstance(value, (bool, list)):
        return value
    return int(value) if kind == t.LongType() else float(value) if kind == t.DoubleType() else str(value)


def fixed_columns(columns):
    """The columns of every table: those up to the uncertainties; behind them stand the sheet's."""
    return columns[: columns.index("u_wander_v") + 1]


def main():
    args = asked()
    spark = SparkSession.builder.appName("tipstrike").getOrCreate()
    command = [args.tipstrike, "measure", "--anew", "--jsonl", "-", "--job", str(args.job.resolve())]
    command += ["--prep", args.prep] if args.prep else []
    work = batches(args.recordings, args.batch)
    if not work:
        raise SystemExit(f"{args.recordings} holds no recordings; they end in {', '.join(ENDINGS)}")
    rows = spark.sparkContext.parallelize(work, len(work)).flatMap(lambda batch: measured(batch, command)).cache()
    columns = rows.map(lambda row: tuple(row)).distinct().collect()
    if not columns:
        raise SystemExit("No start was found.")
    fixed = fixed_columns(columns[0])
    names = [*fixed, *sorted({name for each in columns for name in each} - set(fixed))]
    kinds = [(name, type_of(name, fixed)) for name in names]
    schema = t.StructType([t.StructField(name, kind) for name, kind in kinds])
    table = spark.createDataFrame(rows.map(lambda row: [cell(row.get(name), kind) for name, kind in kinds]), schema)
    table = table.withColumn("day", table.date.substr(1, 10)).repartition("day", "cell").sortWithinPartitions("recording", "run", "start")
    spark.conf.set("spark.sql.sources.partitionOverwriteMode", "dynamic")
    table.write.mode("overwrite").partitionBy("day", "cell").parquet(args.table)
    print(f"{table.count()} starts of {sum(len(paths) for _, paths in work)} recordings in {args.table}")


if __name__ == "__main__":
    main()
