"""A region's answers are those of one place at a time; what cannot be answered is said."""

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from click.testing import CliRunner

from forecaster import Wish, hindcast
from forecaster.answers.check.results import cells_of
from forecaster.cli import main
from forecaster.region import forecast_places, places_at
from forecaster.region.row import read_place
from forecaster.region.run import begin
from forecaster.region.scores import summed


def rows_of(folder, question) -> list[dict]:
    return [row for came in forecast_places(places_at(folder), question) for row in came.rows]


def when(path, *options: str) -> dict:
    done = CliRunner().invoke(
        main, ["when", str(path), "--today", "2025-09-01", *options, "--json"],
        catch_exceptions=False,
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def test_the_same_numbers_as_when(folder, question):
    rows = {row["place"]: row for row in rows_of(folder, question)}
    for k, name in ((0, "ash"), (1, "birch"), (3, "elm"), (4, "fir")):
        place = ("--lat", str(38 + k), "--lon", str(-100 + 3 * k), "--depth", f"{4 + k % 2}in")
        ask = (*place, "--threshold", "18C", "--direction", "falling")
        (told,) = when(folder / f"{name}.csv", *ask)["windows"]
        row, out, usual = rows[name], told["outlook"], told["typical"]
        assert iso(row["median"]) == out["settled_median"]
        assert iso(row["early"]) == out["settled_early_10"]
        assert iso(row["late"]) == out["settled_late_90"]
        assert row["never"] == pytest.approx(out["never_probability"], abs=1e-4)
        assert iso(row["usual"]) == usual["settled_median"]
        assert iso(row["usual_early"]) == usual["settled_early_10"]
        assert (row["verdict"], row["reason"]) == (told["verdict"], told["reason"])
        assert row["soil_c"] == pytest.approx(told["so_far"]["soil_c"], abs=1e-4)
        assert iso(row["season_start"]) == told["season_start"]
        by = sum(s["probability"] for s in out["settled_on"] if s["date"] <= "2025-10-10")
        assert row["chance_by"] == pytest.approx(by, abs=1e-3)
        assert row["against_usual_days"] == (row["median"] - row["usual"]).days
        assert row["problem"] == ""


def test_the_same_day_as_when_for_a_crop(folder, question):
    asked = replace(question, thresholds=(), crops=("pansy",), wish=Wish(season="autumn"))
    place = places_at(folder)[0]
    (row,) = next(forecast_places([place], asked)).rows
    told = when(
        folder / "ash.csv", "--lat", "38", "--lon", "-100", "--crop", "pansy", "--season", "autumn"
    )
    (window,) = told["crops"]
    assert iso(row["best_until"]) == window["closes"]["median"]
    assert iso(row["best"]) == window["best"]["median"]
    assert row["use"] == window["use"]


def test_what_has_no_answer_says_why(folder, question):
    rows = {row["place"]: row for row in rows_of(folder, question)}
    assert len(rows) == 6
    assert "cedar.csv" in rows["cedar"]["problem"]
    assert str(folder) not in rows["cedar"]["problem"]
    assert "gone.csv" in rows["gone"]["problem"]
    assert "median" not in rows["gone"]


def broken(place, question):
    raise ZeroDivisionError(place.name)


def test_a_fault_of_ours_ends_no_region(folder, question):
    found = list(forecast_places(places_at(folder), question, work=broken))
    assert [one.failed for one in found] == [True] * 6
    assert "ZeroDivisionError: ash" in found[0].rows[0]["problem"]


def test_a_run_stopped_and_gone_on_with_is_the_run_not_stopped(folder, question, tmp_path):
    places = places_at(folder)
    whole = begin(tmp_path / "whole.csv", places, question)
    whole.go()
    assert (whole.done, whole.failed, whole.complete) == (6, 2, True)

    def stop(done: int, failed: int, left: int) -> None:
        if done == 3:
            raise KeyboardInterrupt

    out = tmp_path / "r.csv"
    first = begin(out, places, question)
    with pytest.raises(KeyboardInterrupt):
        first.go(progress=stop)
    assert first.done == 3
    # Another day, and the same question: it goes on as of the first day.
    later = replace(question, now=date(2025, 9, 20))
    second = begin(out, places, later, resume=True)
    assert [one.name for one in second.left] == ["elm", "fir", "gone"]
    assert second.question.now == question.now
    second.go()
    assert (second.done, second.failed) == (6, 2)
    assert second.table().equals(whole.table())


def test_what_is_gone_on_with_must_be_the_same(folder, question, tmp_path):
    places, out = places_at(folder), tmp_path / "r.csv"
    with pytest.raises(ValueError, match="no stopped run"):
        begin(out, places, question, resume=True)
    run = begin(out, places, question)
    run.go()
    with pytest.raises(ValueError, match=r"--resume, or forget it: --anew"):
        begin(out, places, question)
    with pytest.raises(ValueError, match="asked something else"):
        begin(out, places, replace(question, today=date(2025, 8, 1)), resume=True)
    (folder / "cedar.csv").write_bytes((folder / "elm.csv").read_bytes())
    again = begin(out, places_at(folder), question, resume=True)
    assert [one.name for one in again.left] == ["cedar"]
    again.go()
    rows = again.table().to_pylist()
    assert [row["place"] for row in rows] == ["ash", "birch", "cedar", "elm", "fir", "gone"]
    assert rows[2]["problem"] == ""
    assert len(begin(out, places, question, anew=True).left) == 6


def test_a_check_sums_what_each_place_scored(folder, question, tmp_path):
    asked = replace(question, check=True, seasons=2, leads_days=(0, 14), by=None)
    places = [one for one in places_at(folder) if one.name in ("ash", "elm", "gone")]
    run = begin(tmp_path / "c.csv", places, asked)
    run.go()
    scores = summed(run.table().to_pandas())
    found = [
        hindcast(
            *read_place(one, asked).known(), thresholds=asked.thresholds, seasons=2,
            leads_days=(0, 14),
        )
        for one in places[:2]
    ]  # fmt: skip
    both = [row for one in found for row in one.rows]
    cells = cells_of(both, asked.thresholds, np.random.default_rng(0))
    assert [(one.region, one.lead_days) for one in scores] == [
        (region, lead) for region in ("all", "east", "west") for lead in (0, 14)
    ]
    for score, cell in zip(scores, cells, strict=False):
        assert (score.n, score.places) == (cell.n, 2)
        assert score.mae_days == pytest.approx(cell.mae_days)
        assert score.crps_days == pytest.approx(cell.crps_days)
        assert score.coverage == pytest.approx(cell.coverage)
        assert score.skill == pytest.approx(cell.skill)
    assert {one.truth for one in scores} == {"model"}
