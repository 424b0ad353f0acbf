"""The guides of the page's help, and where they lie."""

import re

import pytest

from scanner.app.find_guides import GUIDES, find_guide

_GUIDE_LINK = re.compile(r"\]\(([^)#\s]+)\.md(?:#[\w-]+)?\)")


def test_a_guide_is_looked_up_by_its_name_and_never_joined_to_a_path():
    assert all(find_guide(name).suffix == ".md" for name in GUIDES)
    assert find_guide("../README") is None


@pytest.mark.parametrize("name", GUIDES)
def test_a_guide_sends_its_reader_only_to_guides_of_the_same_help(name):
    assert set(_GUIDE_LINK.findall(find_guide(name).read_text("utf-8"))) <= set(GUIDES)
