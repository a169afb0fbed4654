"""rounds pool: this clinic's canonical tables as Parquet, for a group that computes over many sites."""

from pathlib import Path

from pipeline.commands.answers import answer, say


def add(commands):
    command = commands.add_parser(
        "pool",
        help="write this clinic's loaded records as Parquet for a group of sites",
        description="Writes canonical tables below DEST, by site and month, animals and people hashed; safe to repeat.",
    )
    command.add_argument("dest", type=Path, metavar="DEST")
    command.set_defaults(run=run)


def run(asked) -> int:
    from pipeline import database, models, settings
    from pipeline.engines.pool import pool
    from pipeline.intake.identity import key_of

    chosen = settings.read(asked.clinic / settings.FILE)
    with database.connect(asked.clinic / database.FILE) as db:
        models.prepare(db, chosen)
        rows = pool(db, chosen, key_of(asked.clinic), asked.dest)
    say(f"Pooled {sum(rows.values()):,} rows into {asked.dest}: " + ", ".join(f"{n:,} {t}" for t, n in rows.items()))
    answer(asked, rows=rows)
    return 0
