"""What is said again in another manner: units by NIST, days and decimal signs by CLDR, numbers of things by gettext."""

from __future__ import annotations

import copy
import json
import pickle
from datetime import date

import pytest

from server.reports.pieces import written
from server.wording.manner import LANGUAGES, PLAIN, Manner, units_from
from server.wording.said import (
    Amount,
    Day,
    Figure,
    Said,
    capital,
    celsius,
    celsius_apart,
    cm,
    in_words,
    joined,
    litres,
    say,
    say_count,
    words_of,
)

GERMAN = Manner("de")
AMERICAN = Manner("en", "in", "gal", "F")
COLD = say("The night of {on} went down to {low:.0f}.", on=Day(date(2025, 5, 3)), low=celsius(-2.4))


def test_what_is_said_is_the_english_text_like_any_other() -> None:
    assert COLD == "The night of 3 May went down to −2 °C."
    assert PLAIN.say(COLD) == COLD and type(PLAIN.say(COLD)) is str
    assert GERMAN.say("A place's own name") == "A place's own name"


def test_another_language_has_its_words_days_and_decimal_sign() -> None:
    # Unicode CLDR, locale de: day and month as "3. Mai", with the year "3. Mai 2025"; the decimal sign is a comma.
    assert GERMAN.say(COLD) == "In der Nacht des 3. Mai fiel es auf −2 °C."
    printed = say("Its tag was printed on {on}.", on=Day.of("2025-05-03"))
    assert (printed, GERMAN.say(printed)) == (
        "Its tag was printed on 3 May 2025.",
        "Sein Etikett wurde am 3. Mai 2025 gedruckt.",
    )
    many = say("More than {most:,} passports; split the file into several.", most=12_000)
    assert GERMAN.say(many) == "Mehr als 12.000 Pässe; die Datei in mehrere teilen."
    larger = say("Its leaves are {times:.1f} times as large as is usual, and count so much.", times=1.26)
    assert GERMAN.say(larger) == "Seine Blätter sind 1,3-mal so groß wie üblich und zählen so viel."


def test_the_number_of_things_chooses_the_message() -> None:
    # GNU gettext manual, plural forms: German has one form for 1 and one for all others.
    told = [say_count("{count} tree-season", "{count} tree-seasons", count) for count in (0, 1, 2)]
    assert told == ["0 tree-seasons", "1 tree-season", "2 tree-seasons"]
    assert [GERMAN.say(each) for each in told] == ["0 Baumjahre", "1 Baumjahr", "2 Baumjahre"]


@pytest.mark.parametrize(
    ("amount", "told", "american"),
    [
        # NIST SP 811: °F = °C * 9/5 + 32, and 5 °C apart are 9 °F apart; 1 in = 2.54 cm; 1 US gal = 3.785411784 l.
        (celsius(-40.0), "−40 °C", "−40 °F"),
        (celsius(37.0), "37 °C", "99 °F"),
        (celsius_apart(5.0), "5 °C", "9 °F"),
        (cm(25.4), "25 cm", "10 in"),
        (cm(10.0), "10 cm", "3.9 in"),
        (litres(3.785411784 * 12), "45 l", "12 gal"),
        (litres(20.0), "20 l", "5.3 gal"),
    ],
)
def test_amounts_go_into_the_units_that_were_chosen(amount: Amount, told: str, american: str) -> None:
    said = say("{amount:.0f}", amount=amount)
    assert (said, AMERICAN.say(said)) == (told, american)
    bare = say("{amount.bare:.0f}", amount=amount)
    assert (bare, AMERICAN.say(bare)) == (told.split(maxsplit=1)[0], american.split(maxsplit=1)[0])


def test_a_unit_may_be_chosen_beside_another_language() -> None:
    assert Manner("de", "in").say(say("{length:.0f}", length=cm(10.0))) == "3,9 in"


def test_pieces_within_pieces_are_said_too() -> None:
    two = joined([say("today"), COLD, "The shed"], "; ")
    assert GERMAN.say(two) == "heute; In der Nacht des 3. Mai fiel es auf −2 °C.; The shed"
    assert (capital(say("today")), GERMAN.say(capital(say("today")))) == ("Today", "Heute")
    rounds = say("{rounds} rounds have gone past it since.", rounds=capital(in_words(3)))
    assert (str(rounds), GERMAN.say(rounds)) == (
        "Three rounds have gone past it since.",
        "Drei Runden gingen seither daran vorbei.",
    )
    assert str(in_words(13)) == "13"
    assert GERMAN.say(say("{number} g", number=Figure(1.5, ".1f"))) == "1,5 g"


def test_what_was_said_survives_copying() -> None:
    for said in (COLD, joined([COLD, COLD]), capital(COLD), say_count("1 day", "{count} days", 3)):
        for again in (copy.deepcopy(said), pickle.loads(pickle.dumps(said))):
            assert again == said and isinstance(again, Said)
            assert GERMAN.say(again) == GERMAN.say(said) != said


def test_what_an_error_says_can_be_said_again() -> None:
    assert words_of(ValueError(COLD)) is COLD
    assert words_of(ValueError("plain")) == "plain"
    assert words_of(OSError(2, "No such file")) == str(OSError(2, "No such file"))


def test_only_known_languages_and_units_are_taken() -> None:
    assert LANGUAGES[:2] == ("en", "de")
    for wrong in ({"language": "xx"}, {"length": "furlong"}, {"temperature": "f"}):
        with pytest.raises(ValueError, match=r"one of|these languages"):
            Manner(**wrong)
    assert units_from(["in", "F", "furlong"]) == {"length": "in", "temperature": "F"}


def test_kept_json_is_told_in_any_manner() -> None:
    item = {"why": [COLD, "a note \N{SNOWMAN} “quoted”"], "place": "Shed", "n": 1.5, "advice": say("today")}
    kept = written(item)
    assert kept.text == (
        '{"why":["The night of 3 May went down to −2 °C.","a note ☃ “quoted”"],"place":"Shed","n":1.5,"advice":"today"}'
    )
    assert kept.told(PLAIN) is kept.text
    assert kept.told(GERMAN) == kept.text.replace(COLD, GERMAN.say(COLD)).replace('"today"', '"heute"')
    assert kept.told(AMERICAN) == kept.text.replace("−2 °C", "28 °F")
    odd = written({"why": [COLD], "place": "\0"})
    assert json.loads(odd.told(GERMAN)) == {"why": [COLD], "place": "\0"}, "rather English than torn"
