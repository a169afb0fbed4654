"""rounds case: one anesthetic as a chart page for discussion."""

from pipeline.commands.answers import answer, say


def add(commands):
    command = commands.add_parser(
        "case",
        help="one anesthetic as a chart page for discussion",
        description="Draws one loaded anesthetic whole: readings, drugs, events, stages, what was found.",
    )
    command.add_argument("case_id", metavar="CASE_ID", help="the clinic's own number of the anesthetic")
    command.set_defaults(run=run)


def run(asked) -> int:
    from pipeline import models, settings
    from pipeline.database import FILE, connect
    from pipeline.progress import Progress
    from pipeline.reporting import case_page

    progress = Progress()
    chosen = settings.read(asked.clinic / settings.FILE)
    with connect(asked.clinic / FILE) as db:
        models.prepare(db, chosen)
        models.build(db, chosen, progress)
        path = case_page(db, chosen, asked.clinic, asked.case_id)
    progress.finish()
    answer(asked, page=str(path))
    say(f"Open {path}")
    return 0
