"""A region's run: begun or gone on with, kept as it goes, and its table when it is done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from forecaster.ground.errors import InputError
from forecaster.region.engine import LIMIT_S, TRIES, forecast_places
from forecaster.region.parts import Parts, parts_beside
from forecaster.region.places import RegionPlace
from forecaster.region.question import Question
from forecaster.region.row import columns_of

if TYPE_CHECKING:
    from distributed import Client

Progress = Callable[[int, int, int], None]
"""Called with the number of places done, of those without an answer, and of those left."""


@dataclass(slots=True, kw_only=True)
class Run:
    """A region's run.

    Parameters
    ----------
    places : sequence of RegionPlace
    question : Question
        Where an earlier run is gone on with: as asked on its first day.
    parts : Parts
        Where its rows are kept.
    left : list of RegionPlace
        Places without rows yet.
    done, failed : int
        Places with rows; of them without an answer.
    """

    places: Sequence[RegionPlace]
    question: Question
    parts: Parts
    left: list[RegionPlace]
    done: int = 0
    failed: int = 0

    @property
    def complete(self) -> bool:
        """Whether every place has its rows."""
        return self.done == len(self.places)

    def go(
        self,
        client: Client | None = None,
        *,
        tries: int = TRIES,
        limit_s: float = LIMIT_S,
        progress: Progress | None = None,
    ) -> None:
        """Ask the places that are left; what came is kept whatever ends this.

        Parameters and errors as for `forecast_places`.
        """
        coming = forecast_places(
            self.left, self.question, client=client, tries=tries, limit_s=limit_s
        )
        try:
            for came in coming:
                self.parts.add(came.rows)
                self.done += 1
                self.failed += came.failed
                if progress is not None:
                    progress(self.done, self.failed, len(self.places) - self.done)
        finally:
            coming.close()  # type: ignore[attr-defined]  # a generator: no task is left behind
            self.parts.flush()

    def table(self) -> Any:
        """Return the rows so far as an Arrow table, in the order of the places."""
        return self.parts.table([place.key() for place in self.places])


def begin(
    out: Path,
    places: Sequence[RegionPlace],
    question: Question,
    *,
    resume: bool = False,
    anew: bool = False,
) -> Run:
    """Return a run whose table is to be `out`: a new one, or one that was stopped.

    Parameters
    ----------
    out : Path
        Its folder of parts stands beside it.
    places, question
        What is asked, and of which places.
    resume : bool
        Go on with a run that was stopped. It must have asked the same, of the same versions;
        places that have come or whose files have changed since are asked.
    anew : bool
        Forget a run that was stopped.

    Raises
    ------
    InputError
        If there is a stopped run and neither is said; if there is none, or another, to go on
        with.
    """
    parts = parts_beside(out, columns_of(question))
    there = parts.any
    if there and anew:
        parts.remove()
        there = False
    if there and not resume:
        raise InputError(
            f"{parts.folder} holds a run that was stopped; go on with it: --resume, "
            "or forget it: --anew"
        )
    if not there:
        if resume:
            raise InputError(f"there is no stopped run {parts.folder} to go on with")
        parts.begin({"question": question.fingerprint(), "now": question.now.isoformat()})
        return Run(places=places, question=question, parts=parts, left=list(places))
    told = parts.told()
    question = replace(question, now=date.fromisoformat(told["now"]))
    if told["question"] != question.fingerprint():
        raise InputError(
            f"{parts.folder} asked something else, or was asked with other versions; "
            "ask as then, or begin again: --anew"
        )
    answered = parts.done()
    keys = {place.key(): place for place in places}
    left = [place for key, place in keys.items() if key not in answered]
    failed = sum(not answered[key] for key in keys if key in answered)
    done = len(places) - len(left)
    return Run(
        places=places, question=question, parts=parts, left=left, done=done, failed=failed
    )  # fmt: skip
