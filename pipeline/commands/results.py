"""rounds results: every number in every report as one tidy table."""

import sys
from pathlib import Path

from pipeline.commands.answers import say

FORMATS = ("csv", "json", "parquet", "xlsx")


def add(commands):
    command = commands.add_parser(
        "results",
        help="every number in every report as one tidy table",
        description="Prints the table `results`: measure, period, group, counts, value, interval, method.",
    )
    command.add_argument("--month", metavar="YYYY-MM", help="the report month (the last complete one)")
    command.add_argument("--format", choices=FORMATS, help="csv, or by the ending of --out")
    command.add_argument("--engine", choices=("duckdb", "spark"), default="duckdb", help="spark: over a pool")
    command.add_argument("--master", metavar="URL", default="local[*]", help="Spark: local[N], spark://, sc://")
    command.add_argument("--pool", type=Path, metavar="DIR", help="what `rounds pool` wrote (with --engine spark)")
    command.add_argument("--out", type=Path, metavar="FILE", help="write there instead of stdout")
    command.set_defaults(run=run)


def run(asked) -> int:
    from pipeline.measures.export import write_results
    from pipeline.progress import Progress
    from pipeline.run import results_only

    if asked.engine == "spark":
        from pipeline.run import results_on_spark

        month = results_on_spark(asked.clinic, asked.pool, asked.master, asked.month)
    else:
        month = results_only(asked.clinic, asked.month, Progress())
    if month is None:
        say("No anesthetic with a start is loaded, so there is nothing to count. Run `rounds load` first.")
    by_ending = asked.out.suffix.lstrip(".") if asked.out else ""
    kind = asked.format or ("json" if asked.json else by_ending if by_ending in FORMATS else "csv")
    written = write_results(asked.clinic, kind, asked.out or sys.stdout.buffer)
    say(f"{written:,} rows, report month {month}" + (f", in {asked.out}" if asked.out else ""))
    return 0
