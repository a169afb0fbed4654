"""The invented clinic's clinic.toml, commented as a real one would be."""

from pathlib import Path

from pipeline.simulate import clinic
from pipeline.simulate.items import ITEMS
from pipeline.simulate.plan import DAY, Plan, day_of, month_start

HEAD = """\
# Settings of an invented clinic. No such town, clinic or person exists; targets and prices are made up.
# Every line below may be changed or removed, except the zone.
name = "{name}"
zone = "{zone}"      # the time zone in which every time in exports/ was written
schema = 1

[absorbent]
minutes_per_mark = {mark}   # one crossed box stands for half an hour of use
max_hours = 8           # change after so many hours of use
max_days = 14           # or so many days, used or not
grams = {grams}             # a charge

[events]
recorded = true         # complications are charted here
from = {since}

[deaths]
assume_alive = true     # an animal nobody wrote dead is taken to be alive after 48 h

[recovery]
hypnotics = ["propofol", "alfaxalone"]

# [limits], [windows], [artefacts] and [temperature] override the shipped thresholds; we keep them all.
# [limits.hypotension]
# dog = [{{ parameter = "map", below = 65, source = "our protocol" }}, {{ parameter = "sap", below = 90 }}]

[display]
temperature = "C"
weight = "kg"
dates = "iso"
decimal = "."

[privacy]
patient_ids = "hash"    # animals become keyed hashes
people_on_pages = false
free_text = false
"""

CHANGES = """
# Changes of practice, with the day they began: control charts start anew there.
[changes]
"warming programme" = {{ from = {since}, measures = ["hypothermia", "minutes_to_hypothermia"] }}
"""

PLANNED = """
# What we know of before our records do: the forecast takes it in.
[planned.dental_days]
from = "{month}"
procedure_group = "dental"
more_days_a_month = 2
cases_a_day = 3
why = "a second dental chair"
"""

ACTIONS = """\
action,who,due,state
forced air on every table with a patient under 10 kg,S01,{long_ago},done
new mark sheet on M2 and absorbent changed after 8 hours,N03,{lately},done
a temperature before every extubation,N05,{lately},open
ventilator cases below 35 mmHg looked at together,S02,{soon},open
"""

CONTROLLED = """
# The controlled-drug book: invented rules. The law where you work decides.
[controlled]
witness_waste = true    # waste needs a second person
count_days = 7          # the cupboard is counted at least so often
keep_years = 5          # how long the book must be kept
"""

PROGRAMME = """
# Training targets: invented numbers. The training body's own rules decide.
[programme]
name = "Invented residency outline"
years = 3
roles = ["primary", "assisting"]
sheets = "quarter"

[programme.trainees]
{trainees}

[[programme.targets]]
name = "Cases as primary"
cases = 140
role = "primary"

[[programme.targets]]
name = "Cats"
cases = 60
species = "cat"

[[programme.targets]]
name = "ASA 3 and above as primary"
cases = 45
asa_class = [3, 4, 5]
role = "primary"

[[programme.targets]]
name = "Emergencies"
cases = 20
emergency = true

[[programme.targets]]
name = "Epidurals"
cases = 25
technique = "epidural"

[[programme.targets]]
name = "Arterial lines"
cases = 30
technique = "arterial_line"

[[programme.targets]]
name = "Orthopedic and neurologic, first year"
cases = 20
procedure_group = ["orthopedic", "neurologic"]
year = 1

[[programme.targets]]
name = "Hours on a ventilator"
hours = 90
ventilation = "mechanical"

[[programme.learning_curves]]
name = "Intubation of cats and dogs"
trainees = ["R04"]
species = ["dog", "cat"]
airway = "tracheal_tube"
role = "primary"
failure_events = ["difficult_intubation"]
acceptable = 0.03
unacceptable = 0.10
source = "invented for this example"
"""


def write_settings(folder: Path, plan: Plan, minimums: dict[str, float]) -> None:
    """clinic.toml and actions.csv for this plan; minimums: smallest quantity of each item to keep, in its unit."""
    after = plan.first + plan.months
    mark, grams, since = clinic.MINUTES_PER_MARK, clinic.ABSORBENT_GRAMS, day_of(plan.first_minute)
    parts = [HEAD.format(name=clinic.NAME, zone=clinic.ZONE, mark=mark, grams=grams, since=since)]
    if plan.programme_from:
        parts.append(CHANGES.format(since=day_of(plan.programme_from)))
    parts += [
        PLANNED.format(month=day_of(month_start(after + 1))[:7]),
        _people(plan),
        PROGRAMME.format(trainees=_trainees(plan)),
        CONTROLLED,
        "\n# Stock items: what they hold, how they come, how long they take to come and how long they keep.\n",
        *(_item(name, minimums) for name in sorted(ITEMS)),
    ]
    ends = month_start(after)
    days = {"long_ago": ends - 300 * DAY, "lately": ends - 5 * DAY, "soon": ends + 25 * DAY}
    actions = ACTIONS.format(**{name: day_of(minute) for name, minute in days.items()})
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "clinic.toml").write_text("".join(parts), encoding="utf-8", newline="\n")
    (folder / "actions.csv").write_text(actions, encoding="utf-8", newline="\n")


def _item(name: str, minimums: dict[str, float]) -> str:
    fields = dict(ITEMS[name])
    if name in minimums:
        fields["minimum"] = minimums[name]
    lines = [f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value:g}" for key, value in fields.items()]
    return f"\n[items.{name}]\n" + "\n".join(lines) + "\n"


def _people(plan: Plan) -> str:
    lines = ["\n# People are codes: N nurse, S supervisor, R resident, T student. Only what a page needs.\n[people]\n"]
    lines += [f'{code} = {{ role = "nurse" }}\n' for code in clinic.NURSES]
    lines += [f'{code} = {{ role = "supervisor" }}\n' for code in clinic.SUPERVISORS]
    lines += [f'{code} = {{ role = "resident" }}\n' for code, since, _ in clinic.RESIDENTS if since < plan.months]
    return "".join(lines)


def _trainees(plan: Plan) -> str:
    """Residents with the first day of their training, some of it before the record begins."""
    lines = []
    for code, since, until in clinic.RESIDENTS:
        if since < plan.months:
            before = clinic.MONTHS_TRAINED_BEFORE.get(code, 0)
            left = f", leaves = {day_of(month_start(plan.first + until) - DAY)}" if until <= plan.months else ""
            lines.append(f"{code} = {{ start = {day_of(month_start(plan.first + since - before))}{left} }}")
    return "\n".join(lines)
