"""A logger's file becomes each day's lowest and highest: its many forms, what is left out, what is refused, once."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server import ids
from server.errors import LeafwalkError, NotFound, Refused, TooLarge, Unclear
from server.records.database import set_setting, write
from server.tables.importing import import_files
from server.tables.logger import LoggerSummary, import_logger
from server.tables.logger_columns import Ask
from server.tables.logger_days import days_of
from server.tables.logger_table import BYTES_MAX, decode, find_table
from server.tables.logger_times import clock_s, date_in
from tests.support.collection import Phone
from tests.support.server import Visitor, run_leafwalk
from tests.tables.conftest import Write, log_length, records

VIENNA = ZoneInfo("Europe/Vienna")
NOW_S = int(datetime(2026, 6, 1, tzinfo=VIENNA).timestamp())
Value = tuple[datetime, float]
Render = Callable[[list[Value]], str]


def hourly(first: date, days: int, minutes: int = 60) -> list[Value]:
    """Values in the zone's own clock: 10 ± 8 °C over the day, coldest at 4, a little warmer day by day."""
    start = datetime.combine(first, time())
    moments = [start + timedelta(minutes=minutes * n) for n in range(days * 1440 // minutes)]
    return [
        (at, round(10 - 8 * math.cos((at.hour + at.minute / 60 - 4) / 12 * math.pi) + at.day / 10, 1)) for at in moments
    ]


def expected(values: list[Value]) -> dict[str, tuple[float, float]]:
    days: dict[str, list[float]] = {}
    for at, value in values:
        days.setdefault(at.date().isoformat(), []).append(value)
    return {day: (min(each), max(each)) for day, each in days.items()}


def table(head: str, row: Callable[[datetime, float], str]) -> Render:
    return lambda values: head + "".join(row(at, value) + "\n" for at, value in values)


def comma(value: float) -> str:
    return str(value).replace(".", ",")


FORMS: dict[str, Render] = {
    "iso": table("time,temperature_c,humidity\n", lambda at, v: f"{at.isoformat(' ')},{v},51"),
    "semicolons, decimal comma, German dates": table(
        "Gerät: 7\nStandort;Ost\n\nDatum/Uhrzeit;Temperatur [°C];Feuchte [%]\n",
        lambda at, v: f"{at:%d.%m.%Y %H:%M:%S};{comma(v)};48,5",
    ),
    "tabs, month first, am and pm, Fahrenheit": table(
        '"#"\t"Date Time, GMT+01:00"\t"Temp, °F"\n',
        lambda at, v: f"{at.hour + 1}\t{at:%m/%d/%Y %I:%M:%S %p}\t{v * 1.8 + 32:.2f}",
    ),
    "day and clock apart, unit in the cell": table(
        "Date,Time,Reading,Battery\n", lambda at, v: f"{at:%Y/%m/%d},{at:%H:%M},{v} °C,2.9"
    ),
    "quoted, comma decimals between commas": table(
        'No,When,"Temp (C)"\n', lambda at, v: f'{at.hour},{at:%Y-%m-%d %H:%M},"{comma(v)}"'
    ),
    "a line of units below the names": table(
        "Time;Temp;Hum\n;°C;%\n", lambda at, v: f"{at:%d-%m-%y %H:%M};{v};40"
    ),
    "the unit stands above the table": table(
        "Logger 12\nUnit: Celsius\nTime,Value\n", lambda at, v: f"{at:%Y-%m-%dT%H:%M},{v}"
    ),
}  # fmt: skip
# 20-04-26 is a day in April 2026, or in April 2020: only the grower can say.
ASKS = {"a line of units below the names": Ask(day_order="dmy")}


def read(text: str, ask: Ask | None = None, zone: ZoneInfo = VIENNA):  # type: ignore[no-untyped-def]
    return days_of(find_table(text), ask or Ask(), zone, NOW_S, "log.csv")


def as_days(found) -> dict[str, tuple[float, float]]:  # type: ignore[no-untyped-def]
    return {day.day.isoformat(): (day.t_min_c, day.t_max_c) for day in found.kept}


class TestForms:
    @pytest.mark.parametrize("form", sorted(set(FORMS) - {"tabs, month first, am and pm, Fahrenheit"}))
    def test_a_form_gives_each_days_lowest_and_highest(self, form: str) -> None:
        values = hourly(date(2026, 4, 20), 6, minutes=30)
        assert as_days(read(FORMS[form](values), ASKS.get(form))) == expected(values)

    def test_fahrenheit_and_an_offset_in_a_columns_name(self) -> None:
        # The logger stays on winter time, UTC+1, while Vienna is on summer time: its 23:00 is the next day's midnight.
        values = hourly(date(2026, 4, 20), 6)
        found = read(FORMS["tabs, month first, am and pm, Fahrenheit"](values))
        assert found.unit == "f"
        wanted = expected([(at + timedelta(hours=1), value) for at, value in values])
        wanted.pop("2026-04-26")  # of which only an hour is there
        got = as_days(found)
        assert list(got) == list(wanted)
        for day, (low, high) in wanted.items():
            assert got[day] == pytest.approx((low, high), abs=0.01)

    # −40 °F is −40 °C, 32 °F is 0 °C, 98.6 °F is 37 °C: the scale's definition.
    @pytest.mark.parametrize(("fahrenheit", "celsius"), [("-40", -40.0), ("32", 0.0), ("98.6", 37.0)])
    def test_fahrenheit_is_turned_into_celsius(self, fahrenheit: str, celsius: float) -> None:
        rows = "".join(f"2026-05-01 {hour:02}:00,{fahrenheit}\n" for hour in range(24))
        (day,) = read("time,temp\n" + rows, Ask(unit="f")).kept
        assert (day.t_min_c, day.t_max_c) == (celsius, celsius)

    @pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
    def test_a_files_encoding_does_not_matter(self, encoding: str) -> None:
        values = hourly(date(2026, 4, 20), 2)
        text = FORMS["semicolons, decimal comma, German dates"](values)
        assert as_days(read(decode(text.encode(encoding)))) == expected(values)

    def test_times_in_utc_belong_to_the_collections_own_days(self) -> None:
        rows = "".join(
            f"{datetime(2026, 4, 20, tzinfo=UTC) + timedelta(hours=n):%Y-%m-%dT%H:%M}Z,{n}\n" for n in range(48)
        )  # in Auckland, UTC+12 in April, the noon of one day to the noon after next
        found = read("time,temp_C\n" + rows, zone=ZoneInfo("Pacific/Auckland"))
        assert as_days(found) == {"2026-04-21": (12.0, 35.0)}
        assert [day.day.isoformat() for day in found.left_out] == ["2026-04-20", "2026-04-22"]

    @pytest.mark.parametrize(("day", "hours"), [("2026-03-29", 23), ("2025-10-26", 25)])
    def test_a_day_on_which_clocks_are_changed_is_whole(self, day: str, hours: int) -> None:
        start = datetime.fromisoformat(f"{day}T00:00").replace(tzinfo=VIENNA)
        utc_s = int(start.timestamp())
        moments = [datetime.fromtimestamp(utc_s + 3600 * n, VIENNA) for n in range(hours)]
        (found,) = read("t,°C\n" + "".join(f"{at.isoformat(' ')},{n}\n" for n, at in enumerate(moments))).kept
        assert (found.day.isoformat(), found.t_max_c, found.in_full) == (day, hours - 1.0, True)
        local = read("t,°C\n" + "".join(f"{at:%Y-%m-%d %H:%M},{n}\n" for n, at in enumerate(moments)))
        assert [each.day.isoformat() for each in local.kept] == [day]

    def test_rows_in_any_order_lines_of_events_and_footers_do_no_harm(self) -> None:
        values = hourly(date(2026, 4, 20), 2)
        lines = [f"{at:%Y-%m-%d %H:%M},{value}" for at, value in reversed(values)]
        lines[5:5] = ["2026-04-20 10:20,", "2026-04-20 10:21,---", "Host connected,", ",,", ""]
        found = read("time,temp (°C)\n" + "\n".join(lines) + "\nEnd of data\n")
        assert as_days(found) == expected(values)
        assert (found.values, found.without_value) == (48, 2)

    @settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
    @given(
        st.sampled_from(sorted(set(FORMS) - {"tabs, month first, am and pm, Fahrenheit"})),
        st.integers(0, 300),
        st.sampled_from([5, 15, 60, 180]),
        st.integers(0, 10**6),
    )
    def test_whatever_the_form_whole_days_come_back_as_they_were(
        self, form: str, skip: int, minutes: int, seed: int
    ) -> None:
        first = date(2025, 5, 1) + timedelta(days=skip)
        values = [(at, round((value * (seed % 97 + 1)) % 90 - 30, 1)) for at, value in hourly(first, 3, minutes)]
        order = {"a line of units below the names": "dmy", "semicolons, decimal comma, German dates": "dmy"}.get(form)
        assert as_days(read(FORMS[form](values), Ask(day_order=order))) == expected(values)


class TestCovered:
    @staticmethod
    def of_hours(hours: list[int]) -> str:
        return "time,temp_c\n" + "".join(f"2026-05-03 {hour:02}:00,{hour}\n" for hour in hours)

    def test_a_day_with_less_than_two_thirds_is_left_out_with_its_share(self) -> None:
        assert as_days(read(self.of_hours(list(range(17))))) == {"2026-05-03": (0.0, 16.0)}
        found = read(self.of_hours(list(range(15))))
        assert not found.kept
        (day,) = found.left_out
        # Fifteen values on the hour speak from 23:30 the day before, so for 14.5 hours of this day.
        assert day.covered == pytest.approx(14.5 / 24)

    def test_gaps_count_and_many_values_at_once_do_not_make_up_for_them(self) -> None:
        (day,) = read(self.of_hours([*range(8), *range(16, 24)])).left_out
        assert day.covered == pytest.approx(15.5 / 24)
        crowded = "".join(f"2026-05-03 12:{minute:02}:{second:02},20\n" for minute in range(60) for second in (0, 30))
        (day,) = read("time,temp_c\n" + crowded).left_out
        assert day.covered == pytest.approx(2 / 24, abs=0.01)

    def test_a_logger_that_writes_changes_only_may_be_silent_for_an_hour(self) -> None:
        minutes = [*range(0, 360, 50), *range(360, 1260, 2), *range(1260, 1440, 45)]
        rows = "".join(f"2026-05-03 {m // 60:02}:{m % 60:02},{m / 100}\n" for m in minutes)
        (day,) = read("time,temp_c\n" + rows).kept
        assert day.in_full

    def test_values_too_far_apart_are_refused(self) -> None:
        rows = "".join(f"2026-05-{day:02} {hour:02}:00,7\n" for day in range(1, 9) for hour in (2, 8, 14, 20))
        with pytest.raises(Refused, match=r"6\.0 hours apart.*readings\.csv"):
            read("time,temp_c\n" + rows)


class TestRefused:
    ROWS = "".join(f"2026-05-03 {hour:02}:00,{hour},5{hour % 10}\n" for hour in range(24))

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("nothing here\n", "No line of the file holds a time"),
            ("", "No line of the file holds a time"),
            ("date,min,max\n2026-05-03,4,18\n", "No line of the file holds a time"),
            ("time,inside temp_c,outside temp_c\n" + ROWS, r"--column, by name or number: 2 “inside temp_c”, 3 “out"),
            ("time,inside,outside\n" + ROWS, r"Which column is the temperature\?.*2 “inside”, 3 “outside”"),
            ("time,temp,humidity\n" + ROWS, "Celsius or Fahrenheit.*--unit c or --unit f"),
            ("time,temp (°F or °C),humidity\n" + ROWS, "Celsius or Fahrenheit"),
            ("time,temp_c\n2026-05-03 08:00,12,5\n2026-05-03 09:00,13,1\n", "3 cells and its header 2.*semicolons"),
            ("time,temp_c\n03/05/2026 08:00,12\n", "Line 2: “03/05/2026” could be day, month, year or month, day"),
            ("time,temp_c\n03/04/05 08:00,12\n", "--day-order dmy or mdy or ymd"),
            ("time,temp_c\n13/05/2026 08:00,1\n05/13/2026 08:00,1\n", "Line 3: “05/13/2026” is no date as day, month"),
            ("time,temp_c\n2026-02-30 08:00,1\n", "Line 2: “2026-02-30” is no date"),
            ("time,temp_c\n2026-05-03 25:00,1\n", "log.csv, line 2, column time: “25:00” is no time of the day"),
            ("time,temp_c\n2026-05-03 08:00,1\n2026-05-03 09:00,warm\n", "line 3, column temp_c: “warm” is no number"),
            ("time,temp_c\n2026-05-03 08:00,1\n2026-05-03 09:00,-127\n", "line 3: -127 °C is no temperature of air"),
            ("time,temp_c\n2026-05-03 08:00,1\n2026-05-03 09:00,70.1\n", r"line 3: 70\.1 °C is no temperature of air"),
            ("time,temp_f\n2026-05-03 08:00,50\n2026-05-03 09:00,850\n", "line 3: 850 °F is no temperature of air"),
            ("time,temp_c\n2026-05-03 08:00,1\nsoon,12\n", "line 3, column time: A value stands here without a time"),
            ("time,temp_c\n2026-08-03 08:00,1\n", "line 2: 2026-08-03 lies in the future"),
            ("time,temp_c\n9999-12-31 23:59,1\n", "line 2: 9999-12-31 lies in the future"),
            ("start,end,temp_c\n2026-05-03 08:00,2026-05-03 08:10,1\n", "Which column is the time.*1 “start”, 2 “end”"),
        ],
    )  # fmt: skip
    def test_what_is_in_doubt_is_refused_with_what_to_do(self, text: str, words: str) -> None:
        with pytest.raises(Refused, match=f"(?s){words}"):
            read(text)

    @pytest.mark.parametrize(
        ("text", "question", "low_by_choice"),
        [
            ("time,inside,outside\n" + ROWS, "column", {"inside": 0, "outside": 50}),
            ("time,temp_c,Temp_C\n" + ROWS, "column", {"temp_c": 0, "Temp_C": 50}),
            ("start,end,temp_c\n2026-05-03 08:00,2026-05-03 08:10,1\n", "time_column", {"start": 1, "end": 1}),
            ("time,temp,humidity\n" + ROWS, "unit", {"°C": 0, "°F": -17.78}),
            ("time,temp_c\n03/05/2026 08:00,12\n", "day_order", {"2026-05-03": 12, "2026-03-05": 12}),
        ],
    )
    def test_each_answer_that_is_offered_settles_the_question(
        self, text: str, question: str, low_by_choice: dict[str, float]
    ) -> None:
        with pytest.raises(Unclear) as told:
            read(text)
        assert [each.field for each in told.value.problems] == [question]
        assert [words for _, words in told.value.choices] == list(low_by_choice)
        for value, words in told.value.choices:
            days = read(text, Ask(**({"unit": "c"} | {question: value})))
            assert min(day.t_min_c for day in (*days.kept, *days.left_out)) == pytest.approx(
                low_by_choice[words], abs=0.01
            )

    def test_what_the_grower_says_ends_the_doubt(self) -> None:
        two = read("time,inside temp_c,outside temp_c\n" + self.ROWS, Ask(column="Outside  TEMP_C"))
        assert as_days(two) == {"2026-05-03": (50.0, 59.0)}
        assert as_days(read("time,a,b\n" + self.ROWS, Ask(column="2", unit="c"))) == {"2026-05-03": (0.0, 23.0)}
        rows = "".join(f"03/04/2026 {hour:02}:00,{hour}\n" for hour in range(24))
        assert list(as_days(read("time,°C\n" + rows, Ask(day_order="dmy")))) == ["2026-04-03"]
        assert list(as_days(read("time,°C\n" + rows, Ask(day_order="mdy")))) == ["2026-03-04"]
        rows = "".join(f"2026-05-03 {hour:02}:00,2026-05-03 {hour:02}:10,{hour}\n" for hour in range(24))
        assert as_days(read("start,end,temp_c\n" + rows, Ask(time_column="end"))) == {"2026-05-03": (0.0, 23.0)}

    def test_what_the_grower_says_is_checked_too(self) -> None:
        text = "time,temp_c,name\n" + "".join(f"2026-05-03 {hour:02}:00,{hour},x\n" for hour in range(24))
        for ask, words in (
            (Ask(column="²"), "No column is called “²”;"),
            (Ask(column="wind"), "No column is called “wind”; there are: 1 “time”, 2 “temp_c”, 3 “name”"),
            (Ask(column="name"), "holds no numbers; columns that do: 2 “temp_c”"),
            (Ask(time_column="temp_c"), "Which column is the time"),
            (Ask(day_order="dmy"), "Line 2: “2026-05-03” is no date as day, month, year"),
        ):
            with pytest.raises(Refused, match=words):
                read(text, ask)
        twice = "time,t,t\n" + "".join(f"2026-05-03 {hour:02}:00,{hour},{-hour}\n" for hour in range(24))
        with pytest.raises(Refused, match="Two columns are called “t”"):
            read(twice, Ask(column="t", unit="c"))
        assert as_days(read(twice, Ask(column="3", unit="c"))) == {"2026-05-03": (-23.0, 0.0)}

    def test_dates_that_are_the_same_in_every_order_leave_no_doubt(self) -> None:
        rows = "".join(f"05/05/2026 {hour:02}:00,{hour}\n" for hour in range(24))
        assert list(as_days(read("time,°C\n" + rows))) == ["2026-05-05"]

    def test_too_large_is_refused_before_it_is_read(self) -> None:
        with pytest.raises(TooLarge, match="at most 17 MB"):
            decode(b" " * (BYTES_MAX + 1))

    @settings(max_examples=300, suppress_health_check=[HealthCheck.too_slow])
    @given(st.text(alphabet='0123456789-/.:, ;\t\n"°CFTtimep–é', max_size=200) | st.text(max_size=100))
    def test_any_text_is_read_or_refused(self, text: str) -> None:
        lines = "time,temp_c\n" + "2026-05-03 08:00,12\n" * 2 + text
        for each in (text, lines):
            try:
                read(decode(each.encode("utf-8", "surrogatepass")))
            except LeafwalkError as refused:
                assert refused.message

    def test_clocks_and_dates_by_themselves(self) -> None:
        assert [clock_s(text) for text in ("00:00", "12:00 AM", "12:30 pm", "23:59:59.5", "13:00 PM", "24:00")] == [
            0, 0, 45_000, 86_399, None, None,
        ]  # fmt: skip
        assert date_in("01-02-03", "ymd") == date(2001, 2, 3)
        assert date_in("2026-02-01", "dmy") is None


@pytest.mark.usefixtures("collection")
class TestKept:
    @pytest.fixture
    def place(self) -> str:
        with write():
            set_setting("time_zone", VIENNA.key)
        phone = Phone()
        made = phone.change("place", place="Big tunnel", cover="polytunnel")
        phone.send(made)
        return str(made["record"])

    @staticmethod
    def take(text: str, place: str) -> LoggerSummary:
        return import_logger(text.encode(), place, Ask())

    @staticmethod
    def readings() -> dict[str, tuple[float, float]]:
        return {each["date"]: (each["t_min_c"], each["t_max_c"]) for each in records("reading")}

    def test_days_become_readings_and_a_second_import_adds_nothing(self, place: str) -> None:
        values = hourly(date(2026, 4, 20), 6)[:-14]
        text = FORMS["iso"](values)
        done = self.take(text, place)
        wanted = expected(values)
        wanted.pop("2026-04-25")
        assert self.readings() == wanted
        assert (done.new, done.changed, done.unchanged, done.first, done.last) == (5, 0, 0, "2026-04-20", "2026-04-24")
        assert [day for day, _ in done.left_out] == ["2026-04-25"]
        length = log_length()
        again = self.take(text, place)
        assert (again.new, again.changed, again.unchanged) == (0, 0, 5)
        assert log_length() == length

    def test_they_are_the_readings_that_readings_csv_holds(self, place: str, write_files: Write) -> None:
        import_files([write_files(readings="place,date,t_min_c,t_max_c\nBig tunnel,2026-04-20,1,2\n")])
        done = self.take(FORMS["iso"](hourly(date(2026, 4, 20), 1)), place)
        assert (done.new, done.changed) == (0, 1)
        assert len(records("reading")) == 1
        low, high = self.readings()["2026-04-20"]
        summary = import_files(
            [write_files(readings=f"place,date,t_min_c,t_max_c\nBig tunnel,2026-04-20,{low},{high}\n")]
        )
        assert summary.counts["readings.csv"] == {"unchanged": 1}

    def test_a_day_covered_in_part_only_widens_what_is_known(self, place: str, write_files: Write) -> None:
        import_files([write_files(readings="place,date,t_min_c,t_max_c\nBig tunnel,2026-04-20,-2,15\n")])
        part = [(at, value) for at, value in hourly(date(2026, 4, 20), 1) if at.hour >= 6]
        self.take(FORMS["iso"](part), place)
        assert self.readings()["2026-04-20"] == (-2.0, max(value for _, value in part))
        self.take(FORMS["iso"](hourly(date(2026, 4, 20), 1)), place)
        assert self.readings()["2026-04-20"] == expected(hourly(date(2026, 4, 20), 1))["2026-04-20"]
        length = log_length()
        self.take(FORMS["iso"](part), place)
        assert log_length() == length

    def test_a_refused_file_changes_nothing(self, place: str) -> None:
        length = log_length()
        text = FORMS["iso"](hourly(date(2026, 4, 20), 3)) + "2026-04-23 00:00,99,50\n"
        with pytest.raises(Refused, match=r"line 74: 99 °C is no temperature of air.*Mend|Nothing was imported"):
            self.take(text, place)
        with pytest.raises(Refused, match="No day of the file is covered"):
            self.take(FORMS["iso"](hourly(date(2026, 4, 20), 1)[:9]), place)
        with pytest.raises(NotFound, match="choose one that is"):
            self.take(FORMS["iso"](hourly(date(2026, 4, 20), 1)), ids.new_id())
        assert log_length() == length

    def test_a_reading_that_was_withdrawn_is_left_so(self, place: str) -> None:
        text = FORMS["iso"](hourly(date(2026, 4, 20), 1))
        self.take(text, place)
        from tests.tables.conftest import ids_of

        phone = Phone("other")
        phone.send(phone.change("reading", ids_of("reading")[0], voided=True))
        done = self.take(text, place)
        assert (done.new, done.withdrawn) == (0, 1)
        assert records("reading") == []


def test_the_command_tells_what_it_read(home: Path, tmp_path: Path, write_files: Write) -> None:
    run_leafwalk(home, "import", str(write_files(places="place,cover\nBig tunnel,polytunnel\n")))
    file = tmp_path / "log.csv"
    file.write_text(FORMS["iso"](hourly(date(2026, 4, 20), 3)[:-14]), encoding="utf-8")
    done = run_leafwalk(home, "logger", str(file), "--place", "Big tunnel")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines() == [
        "Big tunnel: 2 new, 0 changed, 0 unchanged (days from 2026-04-20 to 2026-04-21)",
        "Read from 58 values of “temperature_c” in °C.",
        "Left out, as less than two thirds of the day is covered: 2026-04-22 (39 %)",
    ]
    again = json.loads(run_leafwalk(home, "logger", str(file), "--place", "Big tunnel", "--json").stdout)
    assert (again["new"], again["unchanged"], again["unit"]) == (0, 2, "c")
    assert again["left_out"] == [{"date": "2026-04-22", "covered_percent": 39}]
    for arguments, words in (
        (("--place", "Nowhere"), "No place is called “Nowhere”"),
        (("--place", "Big tunnel", "--column", "wind"), "No column is called “wind”"),
    ):
        refused = run_leafwalk(home, "logger", str(file), *arguments)
        assert (refused.returncode, refused.stdout) == (1, "")
        assert words in refused.stderr
    assert run_leafwalk(home, "logger", str(tmp_path / "no.csv"), "--place", "Big tunnel").returncode == 1
    assert run_leafwalk(home, "logger", str(file)).returncode == 2


def test_an_owner_sends_a_loggers_file(owner: Visitor, helper: Visitor) -> None:
    place = owner.change("place", place="Porch", cover="porch")
    owner.stored(place)
    path = f"/places/{place['record']}/logger"
    text = "time,temp\n" + "".join(f"2026-04-20 {hour:02}:00,{hour + 40}\n" for hour in range(24))
    assert helper.call("POST", path, data=text, content_type="text/csv").status_code == 403
    doubt = owner.call("POST", path, data=text, content_type="text/csv")
    assert (doubt.status_code, doubt.mimetype) == (422, "application/problem+json")
    assert "Celsius or Fahrenheit" in doubt.json["detail"]
    assert [each["field"] for each in doubt.json["errors"]] == ["unit"]
    assert doubt.json["choices"] == [{"value": "c", "words": "°C"}, {"value": "f", "words": "°F"}]
    answer = owner.call("POST", f"{path}?unit=f", data=text, content_type="text/csv")
    assert answer.status_code == 200, answer.text
    assert (answer.json["new"], answer.json["place"], answer.json["left_out"]) == (1, "Porch", [])
    again = owner.call("POST", f"{path}?unit=f", data=text, content_type="text/csv")
    assert (again.json["new"], again.json["unchanged"]) == (0, 1)
    pulled = [each["fields"] for each in owner.sync().json["records"] if each["kind"] == "reading"]
    assert pulled == [{"place": place["record"], "date": "2026-04-20", "t_min_c": 4.44, "t_max_c": 17.22}]
    assert owner.call("POST", f"/places/{ids.new_id()}/logger?unit=f", data=text).status_code == 404
    assert owner.call("POST", f"{path}?unit=k", data=text).status_code == 422
    big = owner.call("POST", path, data=b" " * (BYTES_MAX + 1))
    assert (big.status_code, big.mimetype) == (413, "application/problem+json")
