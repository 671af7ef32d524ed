"""The catalogue: every message of the code stands in it, and a language that is begun is complete and fits."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from string import Formatter

import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

from server.wording import catalogue
from server.wording.manner import FOLDER, LANGUAGES

LANGUAGE_FILES = sorted(FOLDER.glob("*.po"))
CALLS = {"say": 1, "say_count": 2}
"""How many messages each takes."""


def read(path: Path) -> Catalog:
    with path.open("rb") as file:
        return read_po(file, locale=path.stem if path.suffix == ".po" else None)


def places_of(message: str) -> set[str]:
    """The places for values in a message, with how each is written."""
    return {f"{name}:{form}" for _, name, form, _ in Formatter().parse(message) if name is not None}


def texts(message: str | tuple[str, ...]) -> tuple[str, ...]:
    return (message,) if isinstance(message, str) else tuple(message)


def test_the_template_holds_what_the_code_says(tmp_path: Path) -> None:
    fresh = tmp_path / "messages.pot"
    catalogue.written(catalogue.gathered(), fresh)
    known, found = ({each.id for each in read(path) if each.id} for path in (catalogue.TEMPLATE, fresh))
    assert known == found, "run: python -m server.wording.catalogue"
    assert len(known) > 250


def test_messages_are_written_out_where_they_are_said() -> None:
    """A message that is put together elsewhere would not be found for the catalogue."""
    hidden = []
    for path in sorted(catalogue.SOURCES.rglob("*.py")):
        if path.name == "said.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            name = node.func.id if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) else ""
            for message in node.args[: CALLS.get(name, 0)] if isinstance(node, ast.Call) else ():
                if not (isinstance(message, ast.Constant) and isinstance(message.value, str)):
                    hidden.append(f"{path}:{node.lineno}")
    assert hidden == []


@pytest.mark.parametrize("path", LANGUAGE_FILES, ids=lambda path: path.stem)
def test_a_language_says_every_message_with_its_values(path: Path) -> None:
    known = read(path)
    said = {each.id: each for each in known if each.id}
    assert said.keys() == {each.id for each in read(catalogue.TEMPLATE) if each.id}
    lacking = [key for key, each in said.items() if not all(texts(each.string))]
    assert lacking == []
    assert [each for each in said.values() if each.fuzzy] == []
    wrong = []
    for key, each in said.items():
        places = set.union(*map(places_of, texts(key)))
        for text in texts(each.string):
            # A message for one need not name the number.
            missing = places - places_of(text) - ({"count:", "days:", "most:"} if isinstance(key, tuple) else set())
            if missing or places_of(text) - places:
                wrong.append((key, text))
            if re.search(r"\s$", text) and not re.search(r"\s$", texts(key)[-1]):
                wrong.append((key, text))
    assert wrong == []


def test_every_language_of_the_screens_is_one_of_home() -> None:
    screens = (FOLDER.parent.parent / "webclient" / "ui" / "language.js").read_text(encoding="utf-8")
    offered = set(re.findall(r"value: '(\w\w)'", screens))
    assert offered == set(LANGUAGES)
