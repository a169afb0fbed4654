"""rounds results: every number in every report as one tidy table."""

import sys
from pathlib import Path

from pipeline.commands.answers import say
from pipeline.errors import SettingsFault

FORMATS = ("csv", "json", "parquet", "xlsx")


def add(commands):
    command = commands.add_parser(
        "results",
        help="every number in every report as one tidy table",
        description="Prints the table `results`: measure, period, group, counts, value, interval, method.",
    )
    command.add_argument("--month", metavar="YYYY-MM", help="the report month (the last complete one)")
    command.add_argument("--format", choices=FORMATS, help="csv, or by the ending of --out")
    command.add_argument("--pool", type=Path, metavar="DIR", help="of a group: over what `rounds pool` wrote")
    command.add_argument("--engine", choices=("duckdb", "spark"), default="duckdb", help="what computes over a pool")
    command.add_argument("--master", metavar="URL", default="local[*]", help="Spark: local[N], spark://, sc://")
    command.add_argument("--out", type=Path, metavar="FILE", help="write there instead of stdout")
    command.set_defaults(run=run)


def run(asked) -> int:
    from pipeline.engines.group import FOLDER
    from pipeline.measures.export import write_results
    from pipeline.progress import Progress
    from pipeline.run import results_of_group, results_only

    if asked.engine == "spark" and asked.pool is None:
        raise SettingsFault(
            where="--engine spark",
            found="no --pool",
            wanted="the folder that `rounds pool` wrote, readable by every worker",
            fix="add --pool DIR",
        )
    if asked.pool is None:
        kept, month = asked.clinic, results_only(asked.clinic, asked.month, Progress())
    else:
        master = asked.master if asked.engine == "spark" else None
        kept = asked.clinic / FOLDER
        month = results_of_group(asked.clinic, asked.pool, master, asked.month, Progress())
    if month is None:
        say("No anesthetic with a start is loaded, so there is nothing to count. Run `rounds load` first.")
    by_ending = asked.out.suffix.lstrip(".") if asked.out else ""
    kind = asked.format or ("json" if asked.json else by_ending if by_ending in FORMATS else "csv")
    written = write_results(kept, kind, asked.out or sys.stdout.buffer)
    say(f"{written:,} rows, report month {month}" + (f", in {asked.out}" if asked.out else ""))
    return 0
