"""Heat and chill from records: the contract's items, by name, by command and over the wire."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from server.errors import NotFound, Refused
from server.records.database import set_setting
from server.reports.heat import heat
from tests.support.collection import Phone
from tests.support.server import Visitor, run_leafwalk

CONTRACT = {"place", "from", "degree_days", "chill_units", "chill_hours", "days", "gaps"}


def place(phone: Phone, name: str, **fields: object) -> str:
    change = phone.change("place", place=name, **fields)
    assert phone.send(change)[0].outcome == "stored"
    return str(change["record"])


def read(phone: Phone, place: str, first: date, lows: list[float | None], swing: float = 0.0) -> None:
    changes = [
        phone.change(
            "reading", place=place, date=(first + timedelta(days=n)).isoformat(), t_min_c=low, t_max_c=low + swing
        )
        for n, low in enumerate(lows)
        if low is not None
    ]
    assert {outcome.outcome for outcome in phone.send(*changes)} == {"stored"}


@pytest.mark.usefixtures("collection")
class TestReport:
    def test_flat_days_add_up_to_what_a_pencil_gives(self) -> None:
        """Fig above 8 °C (Souza et al. 2009): 31 days at 10 °C give 62. Utah: 6 °C is a unit an hour, 10 °C a half."""
        phone = Phone()
        variety = phone.change("variety", variety="Nocturne", species="Ficus carica")
        phone.send(variety)
        phone.tree(variety=variety["record"])
        yard = place(phone, "Yard", latitude=42.0)
        read(phone, yard, date(2025, 12, 1), [6.0] * 31)
        read(phone, yard, date(2026, 1, 1), [10.0] * 31)
        document = heat(date(2026, 1, 31)).document()
        (item,) = document["items"]
        assert set(item) >= CONTRACT
        assert (item["place"], item["from"], item["degree_days"]) == ("Yard", "2026-01-01", 62.0)
        assert (item["days"], item["gaps"]) == (31, 0)
        assert item["chill_from"] == "2025-12-01"
        assert item["chill_units"] == pytest.approx(31 * 24 * 1.5, abs=1)
        assert item["chill_hours"] == pytest.approx(31 * 24, abs=24)
        assert (document["species"], document["base_c"], document["upper_c"]) == ("fig", 8.0, 36.0)

    def test_nothing_later_is_looked_at(self) -> None:
        phone = Phone()
        yard = place(phone, "Yard")
        read(phone, yard, date(2026, 1, 1), [12.0] * 10)
        before = heat(date(2026, 1, 5)).document()
        read(phone, yard, date(2026, 1, 11), [30.0] * 5)
        assert heat(date(2026, 1, 5)).document() == before
        assert before["items"][0]["degree_days"] == 10.0

    def test_gaps_are_filled_from_the_neighbour_and_counted(self) -> None:
        phone = Phone()
        yard, house = place(phone, "Yard"), place(phone, "Glass", cover="glasshouse")
        air = [4.0 + 3.0 * ((n * 7) % 5) for n in range(40)]
        hidden = {10, 11, 12, 13, 14, 15}
        read(phone, yard, date(2026, 3, 1), list(air), 10.0)
        read(phone, house, date(2026, 3, 1), [None if n in hidden else t + 5.0 for n, t in enumerate(air)], 10.0)
        found = {item["place"]: item for item in heat(date(2026, 4, 9)).document()["items"]}
        assert (found["Yard"]["days"], found["Yard"]["gaps"]) == (40, 0)
        glass = found["Glass"]
        assert (glass["days"], glass["gaps"], glass["filled"], glass["missing"]) == (40, 6, 6, 0)
        whole = sum(max((t + 5.0 + t + 15.0) / 2 - 10.0, 0.0) for t in air)
        assert glass["degree_days"] == pytest.approx(whole, rel=0.03)

    def test_the_south_counts_from_its_own_winter(self) -> None:
        phone = Phone()
        yard = place(phone, "Yard", latitude=-34.0)
        read(phone, yard, date(2026, 4, 20), [6.0] * 100)
        (item,) = heat(date(2026, 7, 20)).document()["items"]
        assert (item["from"], item["chill_from"]) == ("2026-07-01", "2026-05-01")
        assert item["days"] == 20

    def test_several_readings_of_a_day_join_and_contradictions_are_gaps(self) -> None:
        phone = Phone()
        yard = place(phone, "Yard")
        read(phone, yard, date(2026, 1, 1), [12.0] * 5)
        read(phone, yard, date(2026, 1, 3), [14.0])
        (item,) = heat(date(2026, 1, 5)).document()["items"]
        assert (item["days"], item["degree_days"]) == (5, 11.0)
        phone.send(
            phone.change("reading", place=yard, date="2026-01-06", t_min_c=12.0),
            phone.change("reading", place=yard, date="2026-01-06", t_max_c=2.0),
        )
        (item,) = heat(date(2026, 1, 6)).document()["items"]
        assert (item["days"], item["gaps"], item["missing"]) == (5, 1, 1)

    def test_withdrawn_readings_do_not_count(self) -> None:
        phone = Phone()
        yard = place(phone, "Yard")
        change = phone.change("reading", place=yard, date="2026-01-01", t_min_c=20.0, t_max_c=20.0)
        phone.send(change)
        phone.send(phone.change("reading", record=change["record"], voided=True))
        (item,) = heat(date(2026, 1, 1)).document()["items"]
        assert (item["degree_days"], item["days"]) == (None, 0)

    def test_an_empty_collection_has_no_items_and_a_place_without_readings_no_figures(self) -> None:
        assert heat().document()["items"] == []
        place(Phone(), "Yard")
        (item,) = heat().document()["items"]
        assert (item["degree_days"], item["chill_units"], item["chill_hours"]) == (None, None, None)

    def test_one_place_can_be_asked_for_by_name(self) -> None:
        phone = Phone()
        place(phone, "Yard")
        place(phone, "Glass")
        assert [item["place"] for item in heat(place="Glass").document()["items"]] == ["Glass"]
        with pytest.raises(NotFound, match="Places: Glass, Yard"):
            heat(place="Attic")

    def test_degree_days_are_counted_as_asked(self) -> None:
        """Zalom et al. 1983, table 7: 50 to 82 °F and on to 45 °F, above 55 °F: 11.85 by the single sine, 11.31 by the
        double; in °C, and with a base of 12.8 °C, which is 55 °F.
        """
        set_setting("species", {"general.base_c": (55 - 32) / 1.8, "general.upper_c": (90 - 32) / 1.8})
        phone = Phone()
        yard = place(phone, "Yard")
        for day, low, high in (("2026-01-01", 50, 82), ("2026-01-02", 45, 54)):
            told = {"date": day, "t_min_c": (low - 32) / 1.8, "t_max_c": (high - 32) / 1.8}
            phone.send(phone.change("reading", place=yard, **told))

        def counted(**how: Any) -> float:
            document = heat(date(2026, 1, 2), **how).document()
            return round(document["items"][0]["degree_days"] * 1.8, 1)

        assert counted() == pytest.approx(11.85, abs=0.1)
        assert counted(method="double-sine") == pytest.approx(11.31, abs=0.1)
        assert counted(method="single-triangle") == pytest.approx(11.39, abs=0.1)
        assert counted(method="double-triangle") == pytest.approx(10.62, abs=0.1)
        assert counted(method="mean") == pytest.approx(11.0, abs=0.1)
        with pytest.raises(Refused, match="horizontal cutoff only"):
            heat(method="mean", cutoff="vertical")

    def test_the_air_s_thirst_is_told_in_the_open_only(self) -> None:
        """FAO-56, example 20: Lyon in the middle of July, 26.6 and 14.8 °C, takes 5.0 mm a day."""
        phone = Phone()
        yard = place(phone, "Yard", cover="open", latitude=45 + 43 / 60)
        glass = place(phone, "Glass", cover="glasshouse", latitude=45 + 43 / 60)
        for each in (yard, glass):
            read(phone, each, date(2026, 7, 9), [14.8] * 10, 11.8)
        found = {item["place"]: item["water_week_cm"] for item in heat(date(2026, 7, 18)).document()["items"]}
        assert found == {"Yard": pytest.approx(3.5, abs=0.05), "Glass": None}

    def test_a_day_out_of_reach_is_refused(self) -> None:
        with pytest.raises(Refused, match="reach from"):
            heat(date(1, 1, 1))


def test_heat_over_the_wire(owner: Visitor) -> None:
    yard = owner.change("place", place="Yard", cover="open", latitude=42.0)
    owner.stored(yard)
    for day in range(1, 11):
        reading = {"place": yard["record"], "date": f"2026-01-{day:02}", "t_min_c": 10.0, "t_max_c": 14.0}
        owner.stored(owner.change("reading", **reading))
    (item,) = owner.call("GET", "/reports/heat?on=2026-01-10").json["items"]
    assert set(item) >= CONTRACT
    assert item["degree_days"] == pytest.approx(20.0)


def test_heat_as_a_command(home: Path, tmp_path: Path) -> None:
    (tmp_path / "places.csv").write_text("place,cover,latitude\nYard,open,42\nGlass,glasshouse,42\n")
    rows = [f"{place},2026-01-{day:02},10,14" for place in ("Yard", "Glass") for day in range(1, 11)]
    (tmp_path / "readings.csv").write_text("\n".join(["place,date,t_min_c,t_max_c", *rows]) + "\n")
    assert run_leafwalk(home, "import", str(tmp_path / "places.csv"), str(tmp_path / "readings.csv")).returncode == 0

    shown = run_leafwalk(home, "heat", "--place", "Yard", "--on", "2026-01-10", "--json")
    document = json.loads(shown.stdout)
    assert document["on"] == "2026-01-10"
    assert [item["place"] for item in document["items"]] == ["Yard"]
    assert document["items"][0]["degree_days"] == pytest.approx(20.0)
    head, *lines, foot, _ = run_leafwalk(home, "heat", "--on", "2026-01-10").stdout.splitlines()
    assert head.split()[0] == "degree-days"
    assert [line.split()[:2] for line in lines] == [["20", "2026-01-01"]] * 2
    assert foot.startswith("Degree-days for other species: from 10 to 30 °C")
    told = run_leafwalk(
        home, "heat", "--on", "2026-01-10", "--method", "double-triangle", "--cutoff", "vertical"
    ).stdout
    assert "from 10 to 30 °C, double triangle, vertical cutoff." in told
    refused = run_leafwalk(home, "heat", "--method", "floored-mean", "--cutoff", "vertical")
    assert (refused.returncode, refused.stdout) == (1, "")
    refused = run_leafwalk(home, "heat", "--place", "Attic")
    assert (refused.returncode, refused.stdout) == (1, "")
    assert "No place is called “Attic”. Places: Glass, Yard." in refused.stderr
