"""What a new clinic starts with: commented settings, an empty exports/, and a blank template of every table.

Made from schema.py, so that a template can never differ from what is read.
"""

import csv
import io
from pathlib import Path

from pipeline import schema
from pipeline.errors import SettingsFault
from pipeline.settings import FILE, from_dict

SETTINGS = """\
# Settings of this clinic. Lines that begin with # are examples: remove the # and change the value.
name = "Our clinic"
zone = "{zone}"   # the time zone in which every time in exports/ was written; required
schema = 1

[absorbent]
# minutes_per_mark = 30   # use that one charted mark stands for; needed where marks are charted
max_hours = 8             # absorbent is overdue after so many hours of use
max_days = 14             # or so many days, used or not
# grams = 1000            # the charge, where the change does not say

[events]
# recorded = true         # true, or a list of sites: complications are charted even where a file holds none
# from = 2025-01-01       # since this day

[deaths]
assume_alive = true       # an animal nobody wrote dead is taken to be alive 48 hours after the end

[recovery]
hypnotics = ["propofol", "alfaxalone"]   # the end of their infusion begins recovery where no inhalant was used

# A limit of your own takes the place of the shipped ones of that measure and species.
# [limits.hypotension]
# dog = [{{ parameter = "map", below = 65, source = "our protocol" }}, {{ parameter = "sap", below = 90 }}]

# [windows]
# sustain_min = 5         # shortest episode, in minutes

# Stock items: what they hold, how they come, how long they take.
# [items."ketamine 10 mL"]
# drug = "ketamine"
# concentration_mg_ml = 100
# pack_ml = 10
# lead_days = 5
# service_level = 0.95
# open_days = 28          # good for so long once opened, 1 for a pack of single use; without it, until empty
# control = "controlled"  # the class under the law that applies to you

[controlled]
# witness_waste = true    # waste of controlled drugs needs a second person
# count_days = 7          # the cupboard is counted at least so often
# keep_years = 5          # how long the book must be kept

# Changes of practice: control charts start anew there.
# [changes]
# "warming programme" = 2025-08-01

# More work that is planned; forecasts count it in.
# [planned.dental_days]
# from = "2026-12"
# procedure_group = "dental"
# more_days_a_month = 2
# cases_a_day = 3

# Training targets: your training body's own rules decide.
# [programme]
# name = "Our residency"
# years = 3
# [programme.trainees]
# R01 = {{ start = 2025-08-01 }}
# [[programme.targets]]
# name = "Cats as primary"
# cases = 60
# species = "cat"
# role = "primary"

[display]
temperature = "C"         # or "F"
weight = "kg"             # or "lb"
dates = "iso"             # or "dmy", "mdy"
decimal = "."             # or ","

[privacy]
patient_ids = "hash"      # animals become keyed hashes; "keep" leaves them as they are
people_on_pages = false   # show checks by person code
"""


def start_clinic(folder: Path, zone: str) -> list[Path]:
    """Makes the folder and what belongs in it; never overwrites. Returns the files made.

    Raises SettingsFault where the folder holds a clinic already or the zone is unknown.
    """
    if (folder / FILE).exists():
        raise SettingsFault(
            where=str(folder),
            found=f"a {FILE}",
            wanted="a new or empty folder",
            fix="choose another folder; this one is a clinic already and stays as it is",
        )
    from_dict({"zone": zone}, "--zone")
    for part in ("exports", "templates", "to_fix"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    made = [folder / FILE]
    made[0].write_text(SETTINGS.format(zone=zone), encoding="utf-8")
    for table in schema.TABLES.values():
        path = folder / "templates" / f"{table.name}.csv"
        path.write_text(csv_template(table), encoding="utf-8")
        made.append(path)
    made.append(folder / "templates" / "templates.xlsx")
    made[-1].write_bytes(xlsx_templates())
    made.append(folder / "templates" / "dictionary.csv")
    made[-1].write_text(dictionary(), encoding="utf-8")
    return made


def csv_template(table: schema.Table) -> str:
    """The header line of a table."""
    return ",".join(column.name for column in table.columns) + "\n"


def dictionary() -> str:
    """Every table and column: kind, unit, allowed words, whether it must be filled, meaning. CSV."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(["table", "column", "kind", "unit", "allowed", "required", "meaning"])
    for table in schema.TABLES.values():
        for column in table.columns:
            rows.writerow([table.name, column.name, column.kind, column.unit, " ".join(column.codes),
                           "yes" if column.required else "", column.meaning])  # fmt: skip
    return text.getvalue()


def xlsx_templates() -> bytes:
    """One workbook, a sheet a table, meaning and unit as a note on each header, code lists to choose from."""
    import xlsxwriter

    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True}) as book:
        head = book.add_format({"bold": True, "bottom": 1})
        for table in schema.TABLES.values():
            sheet = book.add_worksheet(table.name)
            sheet.freeze_panes(1, 1)
            for place, column in enumerate(table.columns):
                sheet.write_string(0, place, column.name, head)
                unit = f" [{column.unit}]" if column.unit else ""
                sheet.write_comment(0, place, f"{column.meaning}{unit}" + (" (required)" if column.required else ""))
                sheet.set_column(place, place, max(12, len(column.name) + 2))
                if column.codes and len(",".join(column.codes)) <= 255 and column.kind != "codes":
                    choice = {"validate": "list", "source": list(column.codes), "error_type": "warning"}
                    sheet.data_validation(1, place, 2000, place, choice)
    return stream.getvalue()
