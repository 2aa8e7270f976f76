"""Tables of options: rows named as the parameters they declare, and taken by name."""

import click
import pytest

from forecaster.cli.options import BED, CROPS, PLACE, takes


def declared(*decorators):
    """Parameter names of a command, in the order of its help."""

    def command(**_):
        """Do nothing."""

    for decorate in reversed(decorators):
        command = decorate(command)
    return [parameter.name for parameter in click.command()(command).params]


@pytest.mark.parametrize("table", [PLACE, BED, CROPS], ids=["place", "bed", "crops"])
def test_each_row_is_named_as_its_parameter_and_stands_in_its_order(table):
    assert declared(takes(table)) == list(table)


def test_rows_are_left_out_by_name():
    assert declared(takes(PLACE, without=("outlook", "bed"))) == [
        name for name in PLACE if name not in ("outlook", "bed")
    ]


def test_tables_stand_in_the_order_of_their_lines():
    names = declared(takes(PLACE), takes(BED, without=("crop",)), takes(CROPS, without=("season",)))
    assert names[: len(PLACE)] == list(PLACE)
    assert sorted(names) == sorted({*PLACE, *BED, *CROPS})


def test_a_row_that_is_not_there_cannot_be_left_out():
    with pytest.raises(ValueError, match="no such rows"):
        takes(PLACE, without=("outlok",))
