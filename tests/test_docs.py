"""The documents say what the program does."""

import re
import tomllib
from pathlib import Path

import pytest
from typer.main import get_command

from scanner.board.flaw import FlawKind
from scanner.cli import app

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text()
CHANGELOG = (ROOT / "CHANGELOG.md").read_text()
INSTALLING = (ROOT / "docs" / "install.md").read_text()
COMMANDS = get_command(app).commands


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_has_help_with_an_example(name):
    command = COMMANDS[name]
    assert command.help
    assert command.epilog.startswith(f"Example: bothfaces {name}")


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_has_its_place_in_the_readme(name):
    assert f"bothfaces {name}" in README


@pytest.mark.parametrize(
    ("command", "option"),
    [(name, p) for name, c in sorted(COMMANDS.items()) for p in c.params if p.name != "help"],
    ids=lambda value: getattr(value, "name", value),
)
def test_every_option_says_what_it_is_for(command, option):
    assert option.help, f"{command} {option.name}"


@pytest.mark.parametrize("kind", list(FlawKind))
def test_every_flaw_kind_is_named_in_the_readme(kind):
    assert kind.value.replace("_", " ") in README


def test_the_changelog_keeps_its_form():
    assert CHANGELOG.index("## [Unreleased]") < CHANGELOG.index("### Added")


def test_the_changelog_tells_of_every_command_and_of_none_that_is_not_there():
    told = set(re.findall(r"`bothfaces ([a-z-]+)", CHANGELOG))
    assert told == set(COMMANDS)


def test_every_extra_that_the_documents_install_exists():
    there = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["optional-dependencies"]
    told = re.findall(r"pip install \"[^\[\"]*\[([a-z]+)\]", README + INSTALLING)
    assert told and set(told) <= set(there)


def test_no_document_names_an_index_or_a_machine_path():
    texts = [README, (ROOT / "DEVELOPERS.md").read_text()]
    texts.append((ROOT / "requirements" / "lock.txt").read_text())
    for text in texts:
        assert "/work/" not in text
        assert "--index-url" not in text
        assert "pypi.org" not in text
