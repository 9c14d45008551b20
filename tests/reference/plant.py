"""The queries of docs/plant.md, run by DuckDB over a folder that `tipstrike measure --parquet` wrote, against pandas over the CSV tables.

Nothing is stored: with or without --check the answers are taken anew, and it exits 1 where they differ. TIPSTRIKE names the program
(built with --features parquet); without it nothing is checked, and that is said loudly.
"""

import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
# Day, cell and recordings of four nights: two cells in two weeks.
NIGHTS = [
    ("2026-03-02", "3", "lid-1-*.wav"),
    ("2026-03-03", "7", "lid-2-*.wav"),
    ("2026-03-09", "3", "lid-2-*.wav"),
    ("2026-03-10", "7", "lid-1-*.wav"),
]


def night(folder, day, cell, pattern):
    """A job of the samples' recordings, as struck on that day in that cell."""
    folder.mkdir()
    shutil.copy(ROOT / "samples/job.toml", folder)
    rows = (ROOT / "samples/runs.csv").read_text().splitlines()
    date = rows[0].split(",").index("date")
    sheet = [rows[0] + ",cell"]
    for row in rows[1:]:
        cells = row.split(",")
        if pathlib.PurePath(cells[0]).match(pattern):
            shutil.copy(ROOT / "samples" / cells[0], folder)
            cells[date] = day
            sheet.append(",".join(cells) + "," + cell)
    (folder / "runs.csv").write_text("\n".join(sheet) + "\n")


def measure(folder):
    """Measures the nights into one folder of Parquet, and each into a CSV table."""
    import pandas as pd

    tables = []
    for k, (day, cell, pattern) in enumerate(NIGHTS):
        night(folder / f"night{k}", day, cell, pattern)
        command = [os.environ["TIPSTRIKE"], "measure", f"night{k}", "--anew", "--parquet", "plant", "--csv", f"night{k}.csv"]
        subprocess.run(command, cwd=folder, check=True, capture_output=True)
        tables.append(pd.read_csv(folder / f"night{k}.csv", dtype={"cell": str, "exclude": str}))
    return pd.concat(tables)


def expected(starts):
    """The same answers by pandas, one a query of the page."""
    import pandas as pd

    kept = starts[starts.exclude.isna() & starts.verdict.notna() & (starts.verdict != "doubtful")].copy()
    kept["day"] = pd.to_datetime(kept.date.str[:10])
    kept["week"] = (kept.day - pd.to_timedelta(kept.day.dt.day_of_week, unit="D")).dt.date.astype(str)
    kept["rough"] = kept.verdict.isin(["rough", "no light"])
    weeks = kept.groupby(["cell", "week"]).rough.agg(["size", "sum", "mean"]).reset_index()
    weeks["pct"] = (100 * weeks["mean"]).round(1)
    weeks = weeks.sort_values(["pct", "cell", "week"], ascending=[False, True, True])
    tips = kept[kept.start_ms.notna()].groupby(["prep", "tip_id", "cell"]).start_ms.agg(["size", "median"]).reset_index()
    tips["median"] = tips["median"].round(1)
    tips = tips[tips["size"] >= 4].sort_values(["median", "prep", "tip_id", "cell"], ascending=[False, True, True, True]).head(10)
    worn = kept[kept.since_regrind.notna()].copy()
    worn["since"] = 5 * ((worn.since_regrind - 1) // 5) + 1
    worn = worn.groupby(["prep", "since"]).agg(n=("start", "size"), ms=("start_ms", "median"), score=("score", "mean")).round(1).reset_index()
    flags = starts["flags"].dropna().str.split().explode().value_counts().reset_index()
    flags = flags.sort_values(["count", "flags"], ascending=[False, True])
    return [weeks[["cell", "week", "size", "sum", "pct"]], tips[["prep", "tip_id", "cell", "size", "median"]], worn, flags]


def same(found, wanted):
    """Whether rows agree; numbers that are rounded to a tenth may fall to either side."""
    near = lambda a, b: abs(float(a) - float(b)) < 0.11 if isinstance(b, float) else str(a) == str(b)
    return len(found) == len(wanted) and all(near(a, b) for x, y in zip(found, wanted) for a, b in zip(x, y))


def main():
    if "TIPSTRIKE" not in os.environ:
        print("\n!!! THE QUERIES OF docs/plant.md WERE NOT RUN: TIPSTRIKE names no program with Parquet.\n", file=sys.stderr)
        return
    import duckdb

    view, *queries = re.findall(r"```sql\n(.*?)```", (ROOT / "docs/plant.md").read_text(), re.S)
    with tempfile.TemporaryDirectory() as folder:
        starts = measure(pathlib.Path(folder))
        os.chdir(folder)
        duckdb.execute(view)
        answers = [duckdb.execute(query).fetchall() for query in queries]
        wanted = [table.astype(object).values.tolist() for table in expected(starts)]
        os.chdir(ROOT)
    assert len(starts) == 80 and len(answers) == len(wanted) == 4, (len(starts), len(answers))
    for query, found, rows in zip(queries, answers, wanted):
        assert rows, query
        if not same(found, rows):
            sys.exit(f"{query}\nDuckDB: {found}\npandas: {rows}")
    print(f"{len(queries)} queries over {len(starts)} starts agree")


main()
