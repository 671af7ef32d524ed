"""Every command of `leafwalk` is shown in the README, and the README shows no command that does not exist."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from server.cli import main

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")
SHOWN = set(re.findall(r"leafwalk (?:--home \S+ )?([a-z]+(?:-[a-z]+)*)", README))


@pytest.mark.parametrize("name", sorted(main.commands))
def test_a_command_is_shown_in_the_readme(name: str) -> None:
    assert name in SHOWN


def test_the_readme_shows_only_commands_that_exist() -> None:
    assert set(main.commands) >= SHOWN


@pytest.mark.parametrize("name", sorted(main.commands))
def test_a_command_and_each_of_its_options_say_what_they_do(name: str) -> None:
    command = main.commands[name]
    assert command.help
    for parameter in command.params:
        help_text = getattr(parameter, "help", None)
        chosen = parameter.param_type_name == "argument" or getattr(parameter.type, "choices", None)
        assert help_text or chosen, parameter.name
