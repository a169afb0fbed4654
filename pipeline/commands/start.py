"""rounds start: a new clinic folder with commented settings and blank templates."""

from pathlib import Path

from pipeline.commands.answers import answer, say


def add(commands):
    command = commands.add_parser(
        "start",
        help="a new clinic folder with commented settings and blank templates",
        description="Makes DIR with clinic.toml, exports/, and a blank template of every table as CSV and XLSX.",
    )
    command.add_argument("folder", type=Path, metavar="DIR")
    command.add_argument("--zone", default="Europe/Berlin", help="the clinic's time zone, of the IANA list")
    command.set_defaults(run=run)


def run(asked) -> int:
    from pipeline.templates import start_clinic

    made = start_clinic(asked.folder, asked.zone)
    say(
        f"Made {asked.folder}. Set name and zone in clinic.toml, put exports into exports/, "
        f"then run: rounds month --clinic {asked.folder}"
    )
    answer(asked, made=[str(path) for path in made])
    return 0
