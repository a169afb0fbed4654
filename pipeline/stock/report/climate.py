"""What the inhalants cost the climate."""

from pipeline.figures.months import lines
from pipeline.reporting.frame import Column, Figure, Section, Table
from pipeline.stock.report.used import monthly, unfinished
from pipeline.stock.report.view import View


def section(view: View) -> Section:
    figure = by_month(view)
    question = "How much carbon dioxide would warm as much as the inhalants let out?"
    return Section(
        "climate", "Climate cost of the gases", question, [figure] if figure else ["No inhalant is computed."]
    )


def by_month(view: View) -> Figure | None:
    results = view.results
    year = [row for row in results.levels("co2e_kg", results.year, "agent") if row.value is not None]
    if not year:
        return None
    agents = [row.level for row in year]
    found = {agent: monthly(view, "co2e_kg", "agent", agent) for agent in agents}
    months = results.months
    number = view.display.count
    said = ", ".join(f"{number(row.value)} kg from {row.level}" for row in year)
    unknown = sum(row.not_assessable or 0 for row in year)
    table = Table(
        "climate-table",
        "CO\u2082 equivalent of the inhalants",
        [Column("Month", "month"), *(Column(agent, "number", "kg") for agent in agents)],
        [[month, *(found[agent].get(month) for agent in agents)] for month in months],
    )
    hollow = unfinished(view)
    values = {agent: [found[agent].get(month) for month in months] for agent in agents}
    series = [{"label": agent, "values": values[agent], "partial": hollow} for agent in agents]
    caption = (
        "Computed liquid x density x warming potential over 100 years (IPCC AR6), without making and transport of the "
        f"gases. {view.unknown(unknown)}"
    )
    return Figure("climate-months", f"In 12 months {said} of CO\u2082 equivalent",
                  lines(months, series, "kg CO\u2082e a month", height=260), table, caption, "consumption")  # fmt: skip
