"""The rounds command. Each subcommand is one file of pipeline/commands/ that reads top to bottom."""

import argparse
import contextlib
import json
import sys
import tempfile
import traceback
from pathlib import Path

from pipeline import __version__
from pipeline.commands import case, check, demo, load, map, month, pool, report, results, start, verify
from pipeline.errors import EXIT_OUR_FAULT, UserFault

LOG = "rounds.log"

EXITS = """exit status: 0 done, 1 our fault, 2 wrong usage or settings, 3 a file was refused,
4 with --strict: rows were quarantined or a rule of severity stop failed (verify: a sheet no longer
matches), 5 the database is in use"""


def parser() -> argparse.ArgumentParser:
    """Every command with its options."""
    top = argparse.ArgumentParser(
        prog="rounds",
        description="From a clinic's anesthesia records to its quality meeting, stock order and case logs.",
        epilog=EXITS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    top.add_argument("--version", action="version", version=f"rounds {__version__}")
    commands = top.add_subparsers(required=True, metavar="COMMAND", dest="command")
    for command in (demo, start, map, load, check, report, case, results, month, verify, pool):
        command.add(commands)
    for command in commands.choices.values():
        command.add_argument("--clinic", type=Path, default=Path(), metavar="DIR", help="the clinic folder (here)")
        command.add_argument("--json", action="store_true", help="the answer as JSON on stdout")
    return top


def main(argv: list[str] | None = None) -> int:
    """Runs one command; returns its exit status."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError):
            stream.reconfigure(encoding="utf-8", errors="replace")
    asked = parser().parse_args(argv)
    try:
        return asked.run(asked)
    except UserFault as fault:
        if asked.json:
            print(json.dumps({"fault": fault.as_dict(), "exit": fault.exit_code}))
        print(fault, file=sys.stderr)
        return fault.exit_code
    except BrokenPipeError:
        return EXIT_OUR_FAULT
    except KeyboardInterrupt:
        print("stopped; what was loaded before stays, nothing is half loaded", file=sys.stderr)
        return EXIT_OUR_FAULT
    except Exception as fault:
        print(f"rounds failed: {type(fault).__name__}; details are in {_keep(asked.clinic)}", file=sys.stderr)
        return EXIT_OUR_FAULT


def _keep(clinic: Path) -> Path:
    """Writes the traceback to a log file in the clinic folder, else in the temporary folder; returns it."""
    for folder in (clinic, Path(tempfile.gettempdir())):
        try:
            with (folder / LOG).open("a", encoding="utf-8") as log:
                traceback.print_exc(file=log)
        except OSError:
            continue
        return folder / LOG
    return Path("no file: no folder could be written")


if __name__ == "__main__":
    sys.exit(main())
