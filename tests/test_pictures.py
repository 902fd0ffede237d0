"""The pictures of the README show what the program says today: compared by their words."""

from __future__ import annotations

import pytest
from pictures import FOLDER, PICTURES, ROOT, words_of


@pytest.mark.parametrize("name", [pytest.param("first_screen.svg", marks=pytest.mark.long), "mix_sheet.svg"])
def test_a_picture_of_the_readme_is_of_today(name):
    shown = (FOLDER / name).read_text(encoding="utf-8")
    assert words_of(shown) == words_of(PICTURES[name]()), "python tests/support/pictures.py draws them anew"


def test_the_readme_shows_every_picture():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert all(f"](demo/guide/{name})" in readme for name in PICTURES)
