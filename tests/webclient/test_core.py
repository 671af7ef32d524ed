"""Tag codes, units, times and record shapes, each against an outside source or the server's own rules."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone

import pytest
from playwright.sync_api import Browser, Page
from stdnum.iso7064 import mod_37_36

from server.errors import FieldProblem
from server.sync.change import check_fields
from server.sync.fields import HELPER_KINDS, KINDS, NAME_LENGTH_MAX, NOTE_LENGTH_MAX, PLACES_OF_A_ROUND_MAX
from tests.webclient.files import FileServer

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
NOW_MS = 1_780_000_000_000
ID = "3f0c0e1e-3c1d-4f7a-9d55-0a1b2c3d4e5f"


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    """One page for the whole module: pure functions leave nothing behind."""
    files = FileServer()
    page = browser.new_page()
    page.goto(f"{files.url}/bench")
    yield page
    page.close()
    files.close()


def call(page: Page, module: str, code: str, argument: object = None) -> object:
    """Evaluate `code` with the module as `m` and the argument as `a`."""
    return page.evaluate(f"async (a) => {{ const m = await import('{module}'); return {code}; }}", argument)


class TestTagCode:
    def test_the_check_character_is_that_of_iso_7064_mod_37_36(self, page: Page) -> None:
        # The vector A12425GABC1234002 -> M is python-stdnum's; the rest are computed by it.
        chance = random.Random(7064)
        bodies = ["A12425GABC1234002", *("".join(chance.choices(ALPHABET, k=5)) for _ in range(3000))]
        ours = call(page, "/core/tagcode.js", "a.map(m.checkCharacter)", bodies)
        assert ours == [mod_37_36.calc_check_digit(body) for body in bodies]
        assert ours[0] == "M"

    def test_a_code_reads_in_every_form_that_people_and_tags_write(self, page: Page) -> None:
        body = "7K3WP"
        code = body + mod_37_36.calc_check_digit(body)
        forms = [
            code,
            code.lower(),
            f" {code[:3]} {code[3:]}\n",
            f"{code[:3]}-{code[3:]}",
            f"HTTPS://GARDEN.EXAMPLE/T/{code}",
        ]
        assert call(page, "/core/tagcode.js", "a.map(m.readTagCode)", forms) == [{"code": code}] * len(forms)

    def test_letters_that_look_like_digits_are_read_as_digits(self, page: Page) -> None:
        # The foldings are Crockford's: i and l as 1, o as 0.
        code = "10A01" + mod_37_36.calc_check_digit("10A01")
        typed = [code.replace("1", "I", 1), code.replace("1", "l", 1), code.replace("0", "O", 1)]
        assert call(page, "/core/tagcode.js", "a.map(m.readTagCode)", typed) == [{"code": code}] * 3

    def test_a_check_character_that_looks_like_another_passes_and_is_put_right(self, page: Page) -> None:
        chance = random.Random(36)
        looks = {"1": "IL", "0": "O", "I": "1L", "L": "1I", "O": "0"}
        seen = set()
        for _ in range(4000):
            body = "".join(chance.choices(ALPHABET, k=5))
            check = mod_37_36.calc_check_digit(body)
            if check not in looks or check in seen:
                continue
            seen.add(check)
            for typed in looks[check]:
                assert call(page, "/core/tagcode.js", "m.readTagCode(a)", body + typed) == {"code": body + check}
        assert seen == set(looks)

    def test_every_single_slip_and_swap_is_noticed(self, page: Page) -> None:
        # ISO 7064 promises that a pure or hybrid system finds all single substitutions; MOD 37,36 nearly all swaps.
        body = "4T9XB"
        code = body + mod_37_36.calc_check_digit(body)
        slips = [code[:i] + s + code[i + 1 :] for i in range(6) for s in ALPHABET if s != code[i]]
        assert call(page, "/core/tagcode.js", "a.map((t) => m.readTagCode(t).error)", slips) == ["check"] * len(slips)

    @pytest.mark.parametrize(
        ("text", "error"),
        [
            ("", "empty"),
            ("   ", "empty"),
            ("12345", "form"),
            ("1234567", "form"),
            ("U2345A", "form"),
            ("AB!DEF", "form"),
            ("HTTPS://GARDEN.EXAMPLE/T/", "form"),
            ("Ä" * 6, "form"),
            ("A" * 5000, "form"),
        ],
    )
    def test_what_is_no_code_is_told_apart_from_a_wrong_one(self, page: Page, text: str, error: str) -> None:
        assert call(page, "/core/tagcode.js", "m.readTagCode(a)", text) == {"error": error}

    def test_a_code_is_shown_in_two_groups(self, page: Page) -> None:
        assert call(page, "/core/tagcode.js", "m.showTagCode(a)", "7K3WPD") == "7K3 WPD"


class TestUnits:
    @pytest.mark.parametrize(
        ("quantity", "typed", "si"),
        [
            # NIST SP 811: 1 in = 2.54 cm exactly; 1 US gallon = 3.785411784 l exactly; 32 °F = 0 °C, 212 °F = 100 °C.
            ("length", "1", 2.54),
            ("length", "4", 10.16),
            ("volume", "1", 3.7854),
            ("volume", "10", 37.8541),
            ("temperature", "32", 0),
            ("temperature", "212", 100),
            ("temperature", "-40", -40),
        ],
    )
    def test_american_units_become_si(self, page: Page, quantity: str, typed: str, si: float) -> None:
        read = call(page, "/core/units.js", "m.parseQuantity(a[0], a[1], m.US_UNITS)", [quantity, typed])
        assert read == {"value": pytest.approx(si)}

    def test_what_is_typed_is_shown_again(self, page: Page) -> None:
        code = """a.map(([q, t]) => m.formatQuantity(q, m.parseQuantity(q, t, m.US_UNITS).value, m.US_UNITS))"""
        typed = [("length", "4"), ("length", "3.7"), ("volume", "5"), ("volume", "15.5"), ("temperature", "28")]
        assert call(page, "/core/units.js", code, typed) == ["4 in", "3.7 in", "5 gal", "15.5 gal", "28 °F"]

    def test_si_is_shown_as_it_is_stored(self, page: Page) -> None:
        code = "a.map(([q, v]) => m.formatQuantity(q, v, m.SI_UNITS))"
        shown = call(
            page, "/core/units.js", code, [("length", 12.34), ("volume", 19), ("temperature", -2.5), ("length", None)]
        )
        assert shown == ["12.3 cm", "19 l", "\u22122.5 °C", ""]

    @pytest.mark.parametrize("text", ["abc", "1 2", "1e5", "--3", "1,2,3", "Infinity", "0x10"])
    def test_what_is_no_number_is_refused(self, page: Page, text: str) -> None:
        assert call(page, "/core/units.js", "m.parseNumber(a)", text) == {"error": "number"}

    def test_a_comma_may_stand_for_the_point_and_nothing_for_nothing(self, page: Page) -> None:
        assert call(page, "/core/units.js", "[' 3,5 ', '\u22124', ''].map(m.parseNumber)") == [
            {"value": 3.5},
            {"value": -4},
            {"value": None},
        ]


class TestTime:
    @pytest.mark.parametrize("offset_min", [0, 120, -210, 345, 765, -720])
    def test_a_moment_is_written_as_python_writes_it(self, page: Page, offset_min: int) -> None:
        for at_s in (0, 951_782_400, 1_709_164_799, 1_780_000_000):
            ours = call(page, "/core/time.js", "m.timeText(a[0], a[1])", [at_s * 1000, offset_min])
            zone = timezone(timedelta(minutes=offset_min))
            assert ours == datetime.fromtimestamp(at_s, zone).isoformat()
            assert call(page, "/core/time.js", "m.timeMs(a)", ours) == at_s * 1000

    def test_days_that_do_not_exist_are_none(self, page: Page) -> None:
        days = ["2025-02-29", "2024-02-29", "2025-13-01", "2025-1-1", "1900-02-29", "2000-02-29", "", "2025-04-31"]
        assert call(page, "/core/time.js", "a.map(m.isDate)", days) == [
            False,
            True,
            False,
            False,
            False,
            True,
            False,
            False,
        ]

    def test_an_age_is_told_in_the_largest_full_unit(self, page: Page) -> None:
        ages = call(
            page,
            "/core/time.js",
            "a.map((s) => m.ageOf(0, s * 1000))",
            [-5, 59, 60, 7199, 86_400, 9 * 86_400, 15 * 86_400],
        )
        assert [(age["unit"], age["count"]) for age in ages] == [
            ("now", 0),
            ("now", 0),
            ("minute", 1),
            ("hour", 1),
            ("day", 1),
            ("day", 9),
            ("week", 2),
        ]

    def test_days_are_added_and_counted_over_the_end_of_a_leap_february(self, page: Page) -> None:
        assert call(page, "/core/time.js", "m.addDays('2024-02-28', 2)") == "2024-03-01"
        assert call(page, "/core/time.js", "m.daysBetween('2024-02-28', '2024-03-01')") == 2


def values_to_try() -> list[object]:
    """Values at and beyond the bounds of every type, for any field."""
    lengths = (40, 41, NAME_LENGTH_MAX, NAME_LENGTH_MAX + 1, NOTE_LENGTH_MAX, NOTE_LENGTH_MAX + 1)
    numbers = [0, 0.1, 0.05, 1, 5, 6, 0.5, 99, 100, 101, 500, 501, 2000, 2001, 5000, 5001, 100_000, 100_001]
    numbers += [-number for number in (0.5, 1, 60, 61, 70, 90, 91)] + [60, 61, 70, 71, 90, 91]
    texts = ["moist", "trial", "glasshouse", "pot_up", "main", "sun", "sun;wind", "sun;", "sun;nonsense", "ab\x07c"]
    texts += ["5", "5;6;;7", ";5", "5; 06", ";;", "5,6", "5;-6", "5;6.5", "501", "500", "1;" * 11 + "1", "1;" * 12]
    times = ["2026-03-01", "2026-02-30", "1899-01-01", "2026-03-01T10:00:00+02:00", "2026-03-01T10:00:00Z"]
    times += ["2026-03-01T10:00:00", "2026-03-01 10:00:00Z", "2026-03-01T25:00:00Z", "2026-03-01T10:00:00.123Z"]
    lists = [[], [ID], [ID] * PLACES_OF_A_ROUND_MAX, [ID] * (PLACES_OF_A_ROUND_MAX + 1)]
    others = [True, False, ID, ID[:-1], "a" * 64, "A" * 64, "a" * 63, {}, None]
    return [*("x" * length for length in lengths), *numbers, *texts, *times, *lists, *others]


VALUES = values_to_try()


class TestShapes:
    # The phone is stricter here on purpose: its own forms never write a separator without a word after it.
    STRICTER = frozenset({"sun;", ";;"})

    @pytest.mark.parametrize("kind", sorted(KINDS))
    def test_phone_and_server_take_and_refuse_the_same_values(self, page: Page, kind: str) -> None:
        names = call(page, "/core/shapes.js", "Object.keys(m.KINDS[a])", kind)
        assert sorted(names) == sorted(KINDS[kind].fields)
        stricter = self.STRICTER if kind == "observation" else frozenset()
        cases = [(f, v) for f in names if f != "tag" for v in VALUES if f != "causes" or v not in tuple(stricter)]
        code = """a.cases.map(([f, v]) => m.problemsOf(a.kind, { [f]: v }, { before: {}, now_ms: a.now })
            .filter((p) => p.field === f && p.message !== 'This cannot be left empty.').length === 0)"""
        ours = call(page, "/core/shapes.js", code, {"kind": kind, "cases": cases, "now": NOW_MS})
        for (field, value), taken in zip(cases, ours, strict=True):
            problems: list[FieldProblem] = []
            check_fields(kind, {field: value}, problems)
            if (kind, field) == ("reading", "t_min_c") and value is None:
                continue  # the server sees only later that the other one is missing as well
            assert taken == (problems == []), (field, value, problems)

    def test_a_new_record_needs_what_the_server_requires(self, page: Page) -> None:
        missing = call(
            page,
            "/core/shapes.js",
            "Object.fromEntries(Object.keys(m.KINDS).map((k) => [k, m.problemsOf(k, {}).map((p) => p.field)]))",
        )
        for kind, rules in KINDS.items():
            temperature = {"t_min_c"} if kind == "reading" else set()
            assert set(missing[kind]) == set(rules.required) | temperature, kind

    def test_a_helper_may_write_the_same_kinds(self, page: Page) -> None:
        assert set(call(page, "/core/shapes.js", "m.HELPER_KINDS")) == HELPER_KINDS

    def test_a_time_may_run_an_hour_ahead_and_no_more(self, page: Page) -> None:
        code = """a.minutes.map((ahead) => m.problemsOf('observation', { tree: a.tree,
            seen_at: new Date(a.now_ms + ahead * 60000).toISOString() }, a).map((p) => p.field))"""
        argument = {"tree": ID, "now_ms": NOW_MS, "minutes": [-5, 59, 61]}
        assert call(page, "/core/shapes.js", code, argument) == [[], [], ["seen_at"]]

    def test_a_forecast_reaches_sixteen_days_and_a_night_is_colder_than_its_day(self, page: Page) -> None:
        day = datetime.fromtimestamp(NOW_MS / 1000).astimezone().date()
        code = "a.sets.map((set) => m.problemsOf('reading', set, a).map((p) => p.field))"
        sets = [
            {"place": ID, "date": str(day + timedelta(days=16)), "t_min_c": 3, "t_max_c": 3},
            {"place": ID, "date": str(day + timedelta(days=17)), "t_min_c": 3},
            {"place": ID, "date": str(day), "t_min_c": 4, "t_max_c": 3.9},
            {"place": ID, "date": str(day)},
        ]
        assert call(page, "/core/shapes.js", code, {"sets": sets, "now_ms": NOW_MS}) == [
            [],
            ["date"],
            ["t_max_c"],
            ["t_min_c"],
        ]

    def test_a_tag_with_a_wrong_check_character_is_said_so(self, page: Page) -> None:
        code = "12345" + mod_37_36.calc_check_digit("12345")
        wrong = "12345" + next(s for s in ALPHABET if s not in (code[5], "0", "1"))
        told = call(
            page,
            "/core/shapes.js",
            "a.map((tag) => m.problemsOf('tree', { tag }).map((p) => p.message))",
            [code, wrong, "12"],
        )
        assert told[0] == []
        assert "last character" in told[1][0]
        assert "six characters" in told[2][0]

    def test_every_message_is_a_sentence(self, page: Page) -> None:
        code = """a.flatMap((v) => Object.entries(m.KINDS).flatMap(([kind, shape]) => Object.keys(shape)
            .flatMap((f) => m.problemsOf(kind, { [f]: v }, { before: {} }).map((p) => p.message))))"""
        messages = set(call(page, "/core/shapes.js", code, [-1, "zzz\x07", {}, None, [1]]))
        assert len(messages) > 10
        for message in messages:
            assert message.endswith("."), message
            assert message[0].isupper(), message


def test_ids_are_uuids_of_their_moment(page: Page) -> None:
    made = call(page, "/core/ids.js", "Array.from({ length: 2000 }, m.newId)")
    assert len(set(made)) == 2000
    assert call(page, "/core/ids.js", "a.every(m.isId)", made) is True
    # RFC 9562, 5.7: version 7, variant 10.
    assert all(identity[14] == "7" and identity[19] in "89ab" for identity in made)
    # The example of its Appendix A.6, from memory; and a clock before 1970.
    example = """((draw, now) => {
        crypto.getRandomValues = (bytes) => { bytes.set(a); return bytes; };
        Date.now = () => 0x017f22e279b0;
        const ids = [m.newId()];
        Date.now = () => -1;
        ids.push(m.newId());
        Date.now = now;
        crypto.getRandomValues = draw;
        return ids;
    })(crypto.getRandomValues, Date.now)"""
    drawn = [0x0C, 0xC3, 0x18, 0xC4, 0xDC, 0x0C, 0x0C, 0x07, 0x39, 0x8F]
    ids = call(page, "/core/ids.js", example, drawn)
    assert ids == ["017f22e2-79b0-7cc3-98c4-dc0c0c07398f", "00000000-0000-7cc3-98c4-dc0c0c07398f"]


def test_vocabularies_are_those_of_the_server(page: Page) -> None:
    from server.sync import fields

    for name, words in itertools.chain(
        [("COVERS", fields.COVERS), ("STANDINGS", fields.STANDINGS), ("TASKS", fields.TASKS)],
        [("CAUSES", fields.CAUSES), ("FRUITS", fields.FRUITS)],
    ):
        assert tuple(call(page, "/core/vocabularies.js", f"m.{name}.map((c) => c.value)")) == words


def test_stages_carry_the_published_codes(page: Page) -> None:
    """Fig, extended BBCH: Singh et al. 2023, Folia Hort. 35:395-402; leaf fall from the general scale, from memory."""
    bud, leaf, shoot = (1, 5, 7, 9), (11, 15, 17, 19), (31, 33, 37, 39)
    inflorescence, flower, fruit, ripening = (51, 53, 55, 59), (61, 65, 69), (71, 75, 79), (81, 85, 87, 89)
    stages = call(page, "/core/vocabularies.js", "m.STAGES")
    assert [stage["value"] for stage in stages] == [
        *(*bud, *leaf, *shoot, *inflorescence, *flower, *fruit, *ripening, 93, 97),
    ]
    words = {stage["value"]: stage["words"] for stage in stages}
    assert words[9] == "bud break" and words[71] == "fruit set" and words[87] == "ripe" and words[97] == "dormant"
    assert "70 %" in words[37] and "90 %" in words[39] and "half size" in words[75] and "70 %" in words[79]


def test_cautions_say_what_their_sources_do(page: Page) -> None:
    """Sap: Zaynoun 1984; Derraik & Rademaker 2007. Lifting: NIOSH, 23 kg only under ideal conditions. Heaters:
    extension service, carbon monoxide. Sprays: the product's own label and local rules decide.
    """
    caution = call(page, "/ui/text.js", "m.words.caution")
    assert "sunlight" in caution["prune"] and "hours later" in caution["prune"] and "wash" in caution["prune"]
    assert "23 kg (51 lb)" in caution["lifting"] and "ideal" in caution["lifting"]
    for name in ("shelter", "heater"):
        assert "airtight" in caution[name] and "carbon monoxide" in caution[name]
    assert "label" in caution["spray"] and "local rules" in caution["spray"]
