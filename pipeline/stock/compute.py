"""Writes the stock tables: the models of 50_stock, then demand, forecasts, order sheet, what-if, expiring lots."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from pipeline.beside import Here
from pipeline.forecasting.outlook import Outlook
from pipeline.measures.periods import month_text
from pipeline.models import build_layer
from pipeline.settings import Settings
from pipeline.stock import tables
from pipeline.stock.demand import Calendar, Demand, calendar, case_mix, day_number, demands
from pipeline.stock.items import write_items
from pipeline.stock.lots import Lot, days_ahead, expiring
from pipeline.stock.orders import Order, Terms, lead_demand, order, packs_up, tied_up
from pipeline.stock.outlooks import monthly_means, outlooks, read_plans
from pipeline.stock.shelf import Shelf, read_shelves

SERVICE_LEVELS = (0.80, 0.90, 0.95, 0.98, 0.99, 0.995)
REACH_DAYS = 366
ESTIMATED = "; what is there is estimated since the last count"


def compute(db, settings: Settings, month: str | None = None, progress=None, second=None) -> None:
    """Writes every stock table from the case-level models and the settings: build, then forecast."""
    build(db, settings, progress)
    forecast(db, settings, month, progress, second)


def build(db, settings: Settings, progress=None) -> None:
    """Writes the items and the models of 50_stock: positions, balances and use. Needs the case-level models."""
    write_items(db, settings)
    build_layer(db, ("50_stock",), progress)


def forecast(db, settings: Settings, month: str | None = None, progress=None, second=None) -> None:
    """Writes demand, forecasts, order sheet and expiring lots. Needs build and the measures (`report_months`).

    Forecasts begin after the last complete month, whatever month is reported; the shelf is that of the latest
    loaded time. second: makes half of them (pipeline.beside). Raises SettingsFault for [planned] settings that
    cannot be used.
    """
    rows: dict[str, list[tuple]] = {name: [] for name in tables.TABLES}
    months = calendar(db)
    if months is not None:
        _fill(db, settings, months, rows, progress, second or Here())
    tables.write(db, rows)


def _fill(db, settings: Settings, months: Calendar, rows: dict[str, list[tuple]], progress, second) -> None:
    rules = dict(db.execute("SELECT name, val FROM seed_stock_rules").fetchall())
    shelves = read_shelves(db)
    mix = case_mix(db, months)
    plans = read_plans(db, settings.planned, months)
    today = as_of(db, settings)
    found = demands(db, months, shelves, rules, today)
    lots = _lots(db)
    listed = items(db)
    if progress:
        progress.step(f"forecasting {len(listed)} items")
    looks, used = outlooks([found[item["item"]] for item in listed], mix, months, plans, tables.fits(db), second)
    tables.write_fits(db, used)
    for item, look in zip(listed, looks, strict=True):
        name = item["item"]
        demand = found[name]
        rows["item_demand"] += _demand_rows(item, demand, months)
        rows["forecasts"] += [
            (name, item["base_unit"], months.last + one.ahead, month_text(months.last + one.ahead), *one[:-1])
            for one in look.months
        ]
        rows["forecast_methods"].append(_method_row(name, look, demand))
        daily = days_ahead(today, monthly_means(look, months), REACH_DAYS)
        on_hand, estimated = on_hand_now(shelves.get(name), demand, today)
        line, what_if = order_lines(item, look, daily, on_hand, estimated, today, rules["order_cover_days"])
        rows["order_sheet"].append(line)
        rows["order_what_if"] += what_if
        rows["expiring_lots"] += _expiring_rows(item, lots.get(name, []), daily, today, rules["expiring_within_days"])


def items(db) -> list[dict]:
    """Rows of stock_items, NULL as None."""
    found = db.execute("SELECT * FROM stock_items ORDER BY item")
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]


def as_of(db, settings: Settings) -> date:
    """Local day of the latest loaded time: the day on which the sheet is right."""
    seconds = db.execute("SELECT as_of_s FROM record_end").fetchone()[0]
    return datetime.fromtimestamp(seconds, ZoneInfo(settings.zone)).date()


def _lots(db) -> dict[str, list[Lot]]:
    lots: dict[str, list[Lot]] = {}
    for item, *lot in db.execute(
        "SELECT item, lot, expires_on, left_qty FROM stock_lots WHERE left_qty > 0"
    ).fetchall():
        lots.setdefault(item, []).append(Lot(*lot))
    return lots


def on_hand_now(shelf: Shelf | None, demand: Demand, today: date) -> tuple[float | None, bool]:
    """What is there now [base unit], and whether use since the last movement was taken off, which is done only
    where the store does not chart what it supplies."""
    if shelf is None or shelf.on_hand is None:
        return None, False
    if shelf.supplied:
        return max(0.0, shelf.on_hand), False
    since = sum(used for day, used in demand.by_day.items() if shelf.last_day < day <= day_number(today))
    return max(0.0, shelf.on_hand - since), since > 0


def order_lines(
    item: dict,
    look: Outlook,
    daily: list[float],
    on_hand: float | None,
    estimated: bool,
    today: date,
    cover_days: float,
) -> tuple[tuple, list[tuple]]:
    """The item's row of order_sheet and its rows of order_what_if."""
    start = (item["item"], item["base_unit"], item["pack_size"], today, on_hand, estimated)
    why_not = _why_not(item, look, on_hand)
    if why_not:
        end = (item["lead_days"], item["service_level"], None, None, None, None, why_not)
        return (*start, None, None, None, None, *end), []
    terms = Terms(
        pack=item["pack_size"],
        lead_days=item["lead_days"],
        service=item["service_level"],
        minimum=item["minimum"] or 0.0,
        shelf_days=item["shelf_days"],
        cover_days=cover_days,
    )
    month_sd = max((one.sd for one in look.months), default=0.0)
    lead = lead_demand(daily, terms.lead_days, month_sd)
    placed = order(on_hand, daily, month_sd, terms)
    order_by = None if placed.days_to_order is None else today + timedelta(days=placed.days_to_order)
    line = (
        *start,
        placed.days_left,
        placed.point,
        lead.mean,
        lead.sd,
        terms.lead_days,
        terms.service,
        placed.days_to_order == 0,
        order_by,
        placed.packs,
        None if item["price"] is None else item["price"] * placed.packs,
        why(item, placed, lead.mean, terms) + (ESTIMATED if estimated else ""),
    )
    cover = sum(daily[: int(terms.cover_days)])
    what_if = []
    for service in sorted({*SERVICE_LEVELS, terms.service}):
        tied = tied_up(lead, terms, cover, service)
        packs = tied.average / terms.pack
        money = None if item["price"] is None else item["price"] * packs
        what_if.append((item["item"], service, service == terms.service, tied.point, packs, money))
    return line, what_if


def why(item: dict, placed: Order, lead_mean: float, terms: Terms) -> str:
    """The sentence beside an order."""
    days = f"{terms.lead_days:g} {'day needs' if terms.lead_days == 1 else 'days need'}"
    expected = f"{days} {_short(lead_mean, item)}"
    said = f"order at {_short(placed.point, item)}; {expected}; {terms.service * 100:g}% sure"
    if terms.minimum > 0 and placed.point <= terms.pack * packs_up(terms.minimum, terms.pack):
        said = f"minimum {_short(terms.minimum, item)}; {expected}"
    return said + ("; no more, or it would expire" if placed.limited_by_shelf else "")


def _short(value: float, item: dict) -> str:
    """A quantity of an item to three digits: 0.0123 mL, 7.69 mL, 3,380 g, 3 pieces."""
    unit = item["base_unit"]
    plural = "s" if unit in ("piece", "pack") and value != 1 else ""
    return f"{value:,.0f} {unit}{plural}" if abs(value) >= 100 else f"{value:.3g} {unit}{plural}"


def _why_not(item: dict, look: Outlook, on_hand: float | None) -> str:
    """Why there is no order line, with what to do; empty where there is one."""
    if not item["in_settings"]:
        return "Not named in clinic.toml: add [items] for it with its pack and lead_days."
    if item["pack_size"] is None:
        return "clinic.toml does not say what a pack holds: add pack_ml, or unit and pack_units."
    if item["lead_days"] is None:
        return "clinic.toml does not say how long an order takes: add lead_days."
    if not look.months and not item["minimum"]:
        return "No use is known, so nothing can be forecast; a minimum in clinic.toml would be kept."
    if on_hand is None:
        return "What is there is not known: count it."
    return ""


def _demand_rows(item: dict, demand: Demand, months: Calendar) -> list[tuple]:
    charted = demand.charted or [None] * len(demand.values)
    return [
        (
            item["item"],
            item["base_unit"],
            month,
            month_text(month),
            value,
            said,
            opened,
            discarded,
            demand.why_missing.get(place),
        )
        for place, (month, value, said, opened, discarded) in enumerate(
            zip(months.months, demand.values, charted, demand.opened, demand.discarded, strict=True)
        )
    ]


def _method_row(name: str, look: Outlook, demand: Demand) -> tuple:
    known = sum(value is not None for value in demand.values)
    return (
        name,
        look.method,
        look.why,
        look.origins,
        look.errors,
        look.mase,
        look.naive_mase,
        look.next_best,
        look.next_mase,
        *look.held[0],
        *look.held[1],
        known,
        len(demand.values) - known,
        demand.source,
        demand.ratio,
        demand.factor,
        demand.ratio_said,
    )


def _expiring_rows(item: dict, lots: list[Lot], daily: list[float], today: date, within_days: float) -> list[tuple]:
    pack, price = item["pack_size"], item["price"]
    rows = []
    for one in expiring(lots, daily, today, within_days):
        packs = one.unused / pack if pack else None
        money = packs * price if packs is not None and price is not None else None
        days = (one.expires_on - today).days
        rows.append(
            (item["item"], item["base_unit"], one.lot, one.expires_on, days, one.left, one.unused, packs, money)
        )
    return rows
