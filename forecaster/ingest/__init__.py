"""Files of air temperature and thermometer logs → checked tables, with an account of each."""

from __future__ import annotations

import pandas as pd

from forecaster.ground.errors import InputError
from forecaster.ingest.account import Account
from forecaster.ingest.air.read import read_air
from forecaster.ingest.log.read import one_probe, read_readings

__all__ = ["Account", "account_of", "one_probe", "read_air", "read_readings"]


def account_of(frame: pd.DataFrame) -> Account:
    """Return the account of what was read into a table of `read_air` or `read_readings`.

    Parameters
    ----------
    frame : DataFrame
        As one of them returned it.

    Returns
    -------
    Account
        How the file was understood, rows used and refused, values that look wrong.

    Raises
    ------
    InputError
        If the table was made in another way.
    """
    found = frame.attrs.get("account")
    if not isinstance(found, Account):
        raise InputError("this table has no account; it was not made by read_air or read_readings")
    return found
