"""What a report holds: the answers of the other commands, put side by side."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import PureWindowsPath
from typing import TYPE_CHECKING

from forecaster.answers.window import Window, WindowAnswer
from forecaster.ingest.account import Account
from forecaster.plan import Plan
from forecaster.plan.week import Due
from forecaster.words import Checked, Told
from forecaster.words.crops import CropTold
from forecaster.words.phrases import Show

if TYPE_CHECKING:
    from forecaster.plan.layout.scatter import (
        Scatter,  # slow to load: only where a layout is asked for
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """Everything that a report says.

    Parameters
    ----------
    plan : Plan
    window : Window
        The soil of the plan's season.
    told : Told
        The windows' answer.
    answer : WindowAnswer
        The series behind it, for the picture.
    crops : CropTold or None
        Windows of crops, and the frosts of the record.
    checked : Checked or None
        The forecast of past seasons here.
    no_check : str
        Why there is none.
    layout : Scatter or None
        Where each plant goes.
    dues : tuple of Due
        The plan's tasks, each on the day on which it is due.
    show : {"F", "C"}
        Scale of the words.
    """

    plan: Plan
    window: Window
    told: Told
    answer: WindowAnswer
    crops: CropTold | None = None
    checked: Checked | None = None
    no_check: str = ""
    layout: Scatter | None = None
    dues: tuple[Due, ...] = ()
    show: Show = "F"
    accounts: dict[str, Account] = field(init=False)

    def __post_init__(self) -> None:
        """Keep the names of files without their folders: a page is passed on."""
        short = {
            title: replace(account, path=PureWindowsPath(account.path).name or account.path)
            for title, account in self.told.accounts.items()
        }
        object.__setattr__(self, "accounts", short)

    @property
    def heading(self) -> str:
        """The page's heading: bed, season and year."""
        plan = self.plan
        return f"{plan.bed.name}, {plan.season} {plan.lead.year}"
