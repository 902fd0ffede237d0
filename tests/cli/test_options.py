"""What is typed behind options, as people type it."""

from __future__ import annotations

import click
import pytest

from rationlp.cli.commands import bin, offers, ration, year


def read(command, option, typed):
    """What the option of the command takes `typed` for."""
    found = next(param for param in command.params if option in param.opts)
    return found.type.convert(typed, found, click.Context(command))


@pytest.mark.parametrize("command", [ration.command, year.command])
@pytest.mark.parametrize(
    ("typed", "share"), [("0.9", 0.9), ("90", 0.9), ("90%", 0.9), ("90 %", 0.9), ("0", 0), ("1", 1)]
)
def test_a_home_grown_share_is_a_share_or_a_percentage(command, typed, share):
    assert read(command, "--home-grown", typed) == pytest.approx(share)


@pytest.mark.parametrize("typed", ["4", "4%", "4 %"])
def test_a_precision_is_in_percent(typed):
    assert read(bin.command, "--precision", typed) == 4


@pytest.mark.parametrize("typed", ["nan", "inf", "-inf", "NaN", "nan%", "150%", "-1", "", "half"])
@pytest.mark.parametrize(
    ("command", "option"),
    [
        (ration.command, "--home-grown"),
        (year.command, "--home-grown"),
        (bin.command, "--precision"),
        (offers.command, "--correlation"),
    ],
)
def test_a_number_that_is_none_is_refused(command, option, typed):
    with pytest.raises(click.BadParameter):
        read(command, option, typed)
