"""The store's book: what came, what went out, what was counted; always opening + received + returned
- supplied - discarded - expired = counted, but for the discrepancies planted on purpose.

Controlled drugs leave the cupboard by the volume drawn up each day; all else leaves in whole packs
when one is opened. Orders follow a plain rule, except that one item was not ordered lately.
"""

import numpy as np
import pandas as pd

from pipeline.simulate import clinic
from pipeline.simulate.items import ITEM_OF_DRUG, ITEMS
from pipeline.simulate.plan import DAY, Plan, is_closed

RUNS_LOW = "methadone_10ml"
NOT_ORDERED_DAYS = 52  # before the end, for the item that runs low
COVER_DAYS = 24
SHORT_DATED = {"rocuronium_5ml": 25, "epinephrine_1ml": 60}  # days after the end beyond which no lot keeps
MISCOUNTS = {
    "methadone_10ml": (150, -0.4),
    "ketamine_10ml": (402, -1.0),
    "fentanyl_10ml": (555, 10.0),
    "midazolam_10ml": (641, -5.0),
}


def stock(plan: Plan, cases: pd.DataFrame, drugs: pd.DataFrame, equipment: pd.DataFrame) -> tuple[pd.DataFrame, dict]:
    """Rows of the table stock and the smallest quantity of each item to keep.

    drugs: drug, at (local minute), drawn [mL]; equipment: as made, with agent beside vaporizer fills.
    """
    first, after = plan.first_minute // DAY, plan.ends // DAY
    use = {name: np.zeros(after - first + 2) for name in ITEMS}
    latest = {name: np.zeros(after - first + 2) for name in ITEMS}
    _add(use, latest, drugs.drug.map(ITEM_OF_DRUG), drugs["at"], drugs.drawn, first)
    of = _consumables(equipment)
    _add(use, latest, of["name"], of["at"], of.quantity, first)
    rows, minimums = [], {}
    for number, name in enumerate(sorted(ITEMS)):
        if not use[name].any():
            continue
        book = _Book(plan, name, use[name], plan.chance(30, number))
        for day in range(after - first):
            book.day(day, latest[name][day])
        rows += book.rows
        minimums[name] = book.pack * max(1, round(book.mean * 5 / book.pack))
    table = pd.DataFrame(rows, columns=["item", "at", "movement", "quantity", "unit", "lot", "expires_on", "person"])
    return table.sort_values(["at", "item", "movement"], kind="stable", ignore_index=True), minimums


def _add(use, latest, names, at, quantity, first) -> None:
    rows = pd.DataFrame({"name": np.asarray(names), "at": np.asarray(at), "quantity": np.asarray(quantity)})
    rows["day"] = (rows["at"] // DAY - first).clip(lower=0).astype(int)
    days = rows[rows.day < len(next(iter(use.values())))].groupby(["name", "day"]).agg({"quantity": "sum", "at": "max"})
    for (name, day), quantity, last in zip(days.index, days.quantity, days["at"], strict=True):
        use[name][day] += quantity
        latest[name][day] = max(latest[name][day], last % DAY)


def _consumables(equipment: pd.DataFrame) -> pd.DataFrame:
    """What each action on a machine takes from the store."""
    what = equipment.item + " " + equipment.action
    names = {"absorbent changed": "absorbent_4500g", "scavenging_canister changed": "scavenging_canister",
             "oxygen_cylinder changed": "oxygen_cylinder"}  # fmt: skip
    item = what.map(names).where(what != "vaporizer filled", equipment.agent.map(ITEM_OF_DRUG))
    quantity = equipment.value.where(equipment.item.isin(["absorbent", "vaporizer"]), 1.0)
    return pd.DataFrame({"name": item, "at": equipment["at"], "quantity": quantity})[item.notna()]


class _Book:
    """One item's store, a day at a time. Quantities in the item's unit."""

    def __init__(self, plan: Plan, name: str, use: np.ndarray, rng: np.random.Generator):
        self.plan, self.name, self.use, self.rng = plan, name, use, rng
        fields = ITEMS[name]
        self.unit, self.strict = fields["unit"], bool(fields.get("control"))
        self.pack = float(fields.get("pack_ml") or fields["pack_units"])
        self.lead, self.keeps = int(fields["lead_days"]), fields.get("open_days", 0 if "pack_ml" in fields else 9999)
        self.keeps = 9999 if self.pack >= 250 else self.keeps
        gone = np.ceil(use / self.pack) * self.pack if self.keeps < 2 else use  # opened packs do not last
        self.mean = gone.mean() if self.keeps < 2 else max(use.mean(), self.pack / self.keeps)
        wait = self.lead + 7
        self.point = self.mean * wait + 2.2 * gone.std() * np.sqrt(wait) + self.pack
        self.first = plan.first_minute // DAY
        self.days = plan.ends // DAY - self.first
        self.store = self.pack * np.ceil((self.point + self.mean * 8) / self.pack)
        self.open_left, self.open_since, self.coming, self.rows = 0.0, 0, [], []
        self.lots, self.asked = 0, 0.0

    def day(self, day: int, latest: float) -> None:
        """Count, receive, give out, throw away, order."""
        working = not is_closed(self.first + day)
        if working and (day == 0 or self._counts(day)):
            self._count(day)
        for arrives, quantity in [order for order in self.coming if order[0] <= day and working]:
            self.coming.remove((arrives, quantity))
            self.asked -= quantity
            self._receive(day, quantity)
        if self.open_left > 1e-9 and day - self.open_since >= self.keeps:
            if self.strict:
                self._row(day, 7 * 60 + 40, "discarded", self.open_left)
            self.open_left = 0.0
        if self.use[day] > 0:
            self._give_out(day, round(float(self.use[day]), 2), latest)
        if working:
            self._odd_things(day)
            self._order(day)

    def _counts(self, day: int) -> bool:
        date = (self.first + day) - 4  # days since a Monday
        weekly = date % 7 == 0 or (date % 7 == 1 and is_closed(self.first + day - 1))
        return weekly if self.strict else weekly and (date // 7) % 4 == 0

    def _count(self, day: int) -> None:
        wrong = MISCOUNTS.get(self.name)
        if self.plan.faults and wrong and 0 <= day - wrong[0] < 7 and self.store + wrong[1] >= 0:
            self.store += wrong[1]
        self._row(day, 7 * 60 + 20, "counted", self.store)

    def _receive(self, day: int, quantity: float) -> None:
        self.lots += 1
        lot = f"{self.name[:3].upper()}{day:03d}{self.lots % 10}"
        lasts = int(self.rng.integers(280, 620)) if self.rng.random() < 0.86 else int(self.rng.integers(60, 130))
        keeps = min(self.first + day + lasts, self.first + self.days + SHORT_DATED.get(self.name, 9999))
        self._row(day, 9 * 60 + int(self.rng.integers(0, 90)), "received", quantity, lot, keeps)

    def _give_out(self, day: int, used: float, latest: float) -> None:
        at = min(max(17 * 60 + 30, int(latest) + 5), DAY - 2)
        need = used - self.open_left
        packs = int(np.ceil(round(need / self.pack, 9))) if need > 0 else 0
        takes = used if self.strict else packs * self.pack
        if takes > self.store + 1e-9:
            self._receive(day, self.pack * np.ceil((takes - self.store) / self.pack))
        if packs:
            early = 7 * 60 + 50
            self._row(day, early if self.strict else at - 2, "opened", packs * self.pack)
            self.open_left, self.open_since = self.open_left + packs * self.pack, day
        self.open_left = round(self.open_left - used, 3)
        if takes:
            self._row(day, at, "supplied", takes)

    def _odd_things(self, day: int) -> None:
        draw = self.rng.random(3)
        spare = self.store - self.open_left * self.strict > 2 * self.pack
        small = self.pack <= 50
        if spare and small and draw[0] < 0.0012:
            self._row(day, 15 * 60, "discarded", self.pack)  # dropped
        if spare and small and self.mean < 0.05 * self.pack and draw[1] < 0.004:
            self._row(day, 15 * 60 + 5, "expired", self.pack)
        if spare and not self.strict and small and draw[2] < 0.0015:
            self._row(day, 15 * 60 + 10, "returned", self.pack)

    def _order(self, day: int) -> None:
        forgotten = self.name == RUNS_LOW and day > self.days - NOT_ORDERED_DAYS
        if forgotten or (self.first + day) % 7 not in (4, 0):  # Mondays and Thursdays
            return
        if self.store + self.asked < self.point:
            packs = np.ceil((self.mean * COVER_DAYS + self.point - self.store - self.asked) / self.pack)
            self.coming.append((day + self.lead + int(self.rng.integers(-1, 3)), packs * self.pack))
            self.asked += packs * self.pack

    def _row(self, day: int, minute: int, movement: str, quantity: float, lot=None, expires=np.nan) -> None:
        sign = {"received": 1, "returned": 1, "supplied": -1, "discarded": -1, "expired": -1}.get(movement, 0)
        self.store = round(self.store + sign * quantity, 3)
        at = (self.first + day) * DAY + minute
        person = clinic.NURSES[int(self.first + day) % len(clinic.NURSES)]
        self.rows.append((self.name, at, movement, round(float(quantity), 3), self.unit, lot, expires, person))
