"""`crossday check`: plain first sentence, table, JSON, picture, progress, Ctrl-C."""

import io
import itertools
import json
import math
import os
import re
import signal
import subprocess
import sys
import time
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from click.testing import CliRunner

from forecaster import Site
from forecaster.answers.check import Hindcast, Row
from forecaster.answers.check.results import cells_of
from forecaster.answers.window import Threshold
from forecaster.charts.check import build_check, describe_check, draw_check
from forecaster.cli import main
from forecaster.cli.check import Progress
from forecaster.packaged import data_path, load_json
from forecaster.words.check import Checked, ahead, checked_json, checked_text, first_sentence

COOL = Threshold(
    name="cool-65", label="Cool-season flats", threshold_c=18.333333, direction="falling"
)
WARM = Threshold(
    name="warm-65", label="Warm-season plants", threshold_c=18.333333, direction="rising"
)
GARDEN = load_json("demo/garden.json")
AIR = str(data_path("demo/air.csv"))
PLACE = ("--lat", str(GARDEN["latitude_deg"]), "--lon", str(GARDEN["longitude_deg"]))


def row(threshold: str, year: int, lead: int, miss: float, *, inside: bool = True) -> Row:
    """A made-up forecast: settled on 10 October, the median so many days off."""
    settled, usual = date(year, 10, 10), date(year, 10, 8)
    return Row(
        threshold=threshold, year=year, lead_days=lead,
        issued=date.fromordinal(usual.toordinal() - lead), usual=usual, settled=settled,
        early=date(year, 10, 2), median=date.fromordinal(settled.toordinal() + round(miss)),
        late=date(year, 10, 20), never=0.0, crps_days=0.7 * abs(miss) + 0.1,
        climatology_crps_days=5.0, miss_days=miss, inside=inside, width_days=18.0,
        checks=((date(year, 10, 8), 0.4, False), (date(year, 10, 15), 0.9, True)),
    )  # fmt: skip


def made(seasons: int = 9, truth: str = "readings", **changes) -> Hindcast:
    """Results that can be worked out by hand: misses of 6 days each, two windows missed."""
    rows = tuple(
        row(t.name, 2015 + k, lead, 6.0 if k % 2 else -6.0, inside=k > 1)
        for t in (COOL, WARM)
        for k in range(seasons)
        for lead in (0, 28)
    )
    cells = cells_of(rows, (COOL, WARM), np.random.default_rng(0))
    notes = ("There is no daily soil record.",) if truth == "model" else ()
    found = Hindcast(
        thresholds=(COOL, WARM),
        rows=rows,
        cells=cells,
        truth=truth,
        members=200,
        complete=True,
        notes=notes,
    )
    return replace(found, **changes)


def checked(**changes) -> Checked:
    return Checked(made(**changes), Site(33.36, -81.33))


def run(*words: str, columns: int = 80):
    return CliRunner(env={"COLUMNS": str(columns)}).invoke(main, ["check", *words])


def test_first_sentence_in_full():
    assert first_sentence(made()) == (
        "In 9 past autumns, four weeks ahead, the middle date was off by 6 days on average; "
        "the span of 80 % held the true date in 7 of 9 seasons."
    )
    assert "held the true date in 10 of 12 seasons" in first_sentence(made(12))


def test_the_first_line_is_the_first_sentence_and_n_is_always_shown():
    text = checked_text(checked(), 88)
    assert " ".join(text.split()).startswith(first_sentence(made()))
    for line in text.splitlines():
        if re.match(r"\s+(On the|Four weeks)", line):
            assert re.search(r"\s9\s", line), line
            assert "7 of 9" in line


def test_a_check_against_the_model_says_so_before_any_number_of_the_table():
    text = checked_text(checked(truth="model"))
    assert text.index("WEATHER ONLY") < text.index("off by", text.index("WEATHER"))
    assert "own daily soil readings" not in text
    assert "WEATHER ONLY" not in checked_text(checked())


def test_a_check_that_was_stopped_says_so():
    assert "Stopped before the end: 36 forecasts done" in " ".join(
        checked_text(checked(complete=False)).split()
    )
    nothing = Checked(
        Hindcast(
            thresholds=(COOL,),
            rows=(),
            cells=(),
            truth="readings",
            members=200,
            complete=False,
            notes=(),
        ),
        Site(33.0),
    )
    assert "Stopped before the first forecast" in checked_text(nothing)
    assert checked_json(nothing)["cells"] == []


@pytest.mark.parametrize("width", [20, 30, 40, 60, 80, 88, 300])
def test_no_line_is_wider_than_asked(width):
    for line in checked_text(checked(truth="model"), width).splitlines():
        assert len(line) <= max(30, min(88, width)), line


def test_skill_is_judged_by_its_interval():
    assert "Clearly better than the usual dates up to four weeks ahead: use it." in " ".join(
        checked_text(checked()).split()
    )
    poor = tuple(replace(r, crps_days=9.0) for r in made().rows)
    bad = made(rows=poor, cells=cells_of(poor, (COOL, WARM), np.random.default_rng(0)))
    text = " ".join(checked_text(Checked(bad, Site(33.0))).split())
    assert "Not clearly better than the usual dates, however far ahead." in text
    assert "trust the usual dates there" in text


@pytest.mark.parametrize("level", ["brief", "default", "full"])
def test_it_speaks_of_days_and_a_verdict(level):
    text = checked_text(checked(truth="model"), 88, level=level)
    assert not re.search(r"CRPS|resampl|skill|score", text)
    assert "WEATHER ONLY" in text
    assert "use it" in text
    if level != "brief":
        row = next(line for line in text.splitlines() if line.startswith("  Four weeks ahead"))
        # Misses of 6 days, the usual date 8 October against 10 October, as made above.
        assert row.split() == [
            "Four", "weeks", "ahead", "9", "6.0", "d", "2.0", "d", "18", "d", "7", "of", "9",
            "better",
        ]  # fmt: skip


def test_leads_in_words():
    assert [ahead(lead) for lead in (0, 1, 7, 10, 28)] == [
        "on the usual day", "1 day ahead", "a week ahead", "10 days ahead", "four weeks ahead",
    ]  # fmt: skip


def test_scale_of_the_answer():
    assert "below 65 °F" in checked_text(checked())
    assert "below 18.3 °C" in checked_text(checked(), show="C")


def test_json_reads_back_and_agrees_with_the_result():
    found = json.loads(json.dumps(checked_json(checked()), allow_nan=False))
    assert found["summary"] == first_sentence(made())
    assert found["truth"] == "readings"
    assert found["complete"] is True
    assert [c["n"] for c in found["cells"]] == [9, 9, 9, 9]
    assert found["cells"][0]["coverage"] == pytest.approx(7 / 9, abs=1e-3)
    assert found["cells"][0]["mae_days"] == 6.0
    assert len(found["forecasts"]) == 36
    first = found["forecasts"][0]
    assert first["issued"] == "2015-10-08"
    assert first["checks"][0] == {"date": "2015-10-08", "probability": 0.4, "settled": False}
    assert sum(b["n"] for b in found["reliability"]) == 72


def test_picture_shows_each_season_the_days_off_and_a_verdict():
    found = made()
    figure = build_check(checked())
    seasons, off, promised = figure.axes
    four = [row for row in found.rows if (row.threshold, row.lead_days) == ("cool-65", 28)]
    spans = [
        line.get_xdata() for line in seasons.lines if line.get_label() in ("held it", "missed it")
    ]
    assert [tuple(span) for span in spans] == [
        ((row.early - row.settled).days, (row.late - row.settled).days) for row in four
    ]
    held = [line for line in seasons.lines if line.get_label() == "held it"]
    assert len(held) == sum(row.inside for row in four) == 7
    middle = next(line for line in seasons.lines if line.get_label() == "middle")
    assert middle.get_xdata() == pytest.approx([row.miss_days for row in four])
    assert {t.get_text() for t in seasons.get_yticklabels()} >= {str(four[0].year)}
    assert [t.get_text() for t in off.get_xticklabels()] == [
        "4 weeks\nheld 7 of 9\nbetter", "usual day\nheld 7 of 9\nbetter",
    ]  # fmt: skip
    forecast = next(line for line in off.lines if line.get_label().startswith("forecast"))
    usual = next(line for line in off.lines if line.get_label() == "usual date")
    assert forecast.get_ydata() == pytest.approx([6.0, 6.0])
    assert usual.get_ydata() == pytest.approx([2.0, 2.0])
    points = next(line for line in promised.lines if line.get_marker() == "o")
    np.testing.assert_allclose(points.get_xdata(), [40.0, 90.0])
    np.testing.assert_allclose(points.get_ydata(), [0.0, 100.0])
    assert {t.get_text() for t in promised.texts} == {"36"}
    said = " ".join(" ".join(t.get_text().split()) for t in figure.texts)
    assert said.startswith("Clearly better than the usual dates")
    assert "use it" in said
    assert "CRPS" not in said


def test_a_season_without_a_truth_or_a_span_is_drawn_as_far_as_it_goes():
    rows = tuple(
        replace(row, settled=None) if row.year == 2015 else replace(row, late=None)
        for row in made().rows
    )
    seasons = build_check(checked(rows=rows)).axes[0]
    spans = [
        line.get_xdata() for line in seasons.lines if line.get_label() in ("held it", "missed it")
    ]
    assert len(spans) == 8
    assert {span[1] for span in spans} == {seasons.get_xlim()[1]}


@pytest.mark.parametrize("truth", ["readings", "model"])
def test_no_words_of_the_picture_overlap_or_leave_it(truth):
    from matplotlib.backends.backend_agg import FigureCanvasAgg  # noqa: PLC0415

    figure = build_check(checked(truth=truth))
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    words = [*figure.texts]
    words += [text for axes in figure.axes[:2] for text in axes.get_legend().get_texts()]
    for axes in figure.axes:
        words += [axes.title, axes._left_title, axes.xaxis.label, *axes.texts]
        words += [*axes.get_xticklabels(), *axes.get_yticklabels()]
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in words if t.get_text().strip()]
    for text, box in boxes:
        assert figure.bbox.contains(box.x0, box.y0), text
        assert figure.bbox.contains(box.x1, box.y1), text
    for (one, a), (two, b) in itertools.combinations(boxes, 2):
        assert not a.overlaps(b), f"{one!r} over {two!r}"


def test_description_beside_the_picture(tmp_path):
    beside = draw_check(checked(truth="model"), tmp_path / "check.png")
    words = beside.read_text(encoding="utf-8")
    assert beside == tmp_path / "check.txt"
    assert words == describe_check(checked(truth="model")) + "\n\nWritten by Crossday.\n"
    assert words.startswith("In 9 past autumns")
    assert "WEATHER ONLY" in words
    assert "4 weeks: off by 6.0 days, the usual date by 2.0, span held in 7 of 9, better" in words
    assert (tmp_path / "check.png").read_bytes()[:4] == b"\x89PNG"


@pytest.fixture(scope="module")
def answer():
    return run(AIR, *PLACE, "--crop-class", "cool", "--leads", "0,14", "--seasons", "6")


def test_the_command_on_the_demo(answer):
    assert answer.exit_code == 0, answer.output
    assert answer.stdout.startswith(
        "In 6 past autumns, two weeks ahead, the middle date was off by"
    )
    assert "WEATHER ONLY" in answer.stdout
    assert "What was read" not in answer.stdout
    assert "From air.csv (4,366 rows)." in answer.stdout
    assert "forecast 12 of 12" in answer.stderr
    assert "forecast" not in answer.stdout.splitlines()[0]


def test_the_same_for_a_program(answer):
    found = run(AIR, *PLACE, "--crop-class", "cool", "--leads", "14, 0", "--seasons", "6", "--json")
    told = json.loads(found.stdout)
    assert [cell["lead_days"] for cell in told["cells"]] == [0, 14]
    assert all(cell["n"] == 6 for cell in told["cells"])
    assert all(math.isfinite(cell["crps_days"]) for cell in told["cells"])
    assert told["truth"] == "model"
    assert " ".join(answer.stdout.split()).startswith(told["summary"])


def test_today_hides_what_came_later():
    until = ("--crop-class", "cool", "--leads", "0", "--json")
    found = json.loads(run(AIR, *PLACE, *until, "--today", "2020-01-31").stdout)
    assert max(one["year"] for one in found["forecasts"]) <= 2019


def test_picture_of_the_command(tmp_path):
    picture = tmp_path / "check.png"
    found = run(AIR, *PLACE, "--crop-class", "cool", "--leads", "0", "--seasons", "5",
                "--out", str(picture))  # fmt: skip
    assert found.exit_code == 0, found.output
    assert picture.exists()
    assert picture.with_suffix(".txt").exists()
    assert f"Picture: {picture}" in found.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--leads", "soon"), "write days, as 0,7,14,28"),
        (("--leads", "0,500"), "too far; expected 0 to 180"),
        (("--seasons", "0"), "0"),
        (("--out", "check.pdf"), ".png or .svg"),
        (("--outlook", "x.csv"), "--outlook"),
        (("--threshold", "120F", "--direction", "rising"), "usually never gets there"),
    ],
)
def test_wrong_use_is_one_line(words, said):
    found = run(AIR, *PLACE, *words)
    assert found.exit_code == 2, found.output
    assert found.stdout == ""
    lines = [line for line in found.stderr.splitlines() if not line.startswith("forecast ")]
    assert len(lines) == 1
    assert lines[0].startswith("crossday: ")
    assert said in lines[0]


def test_a_short_record_says_what_is_needed(tmp_path):
    lines = data_path("demo/air.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    short = tmp_path / "air.csv"
    short.write_text("".join(lines[: 365 * 3]), encoding="utf-8")
    found = run(str(short), *PLACE)
    assert found.exit_code == 2
    assert "past seasons are known whole, 5 are needed" in found.stderr


def test_progress_is_a_bar_on_a_terminal_and_leaves_nothing_behind():
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    live, file = Terminal(), io.StringIO()
    for out in (live, file):
        with Progress(out) as progress:
            for done in range(1, 101):
                progress(done, 100)
    assert "forecasts" in live.getvalue()
    assert "100%" in live.getvalue()
    assert file.getvalue().splitlines() == [f"forecast {n} of 100" for n in (25, 50, 75, 100)]


@pytest.mark.skipif(os.name == "nt", reason="signals differ")
def test_ctrl_c_shows_what_is_done():
    """Stopped once the first quarter is reported: an answer all the same, and exit code 130."""
    code = (
        "import signal\nfrom forecaster.cli import main\n"
        # A caller that ignores Ctrl-C hands that down.
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        f"main({['check', AIR, *PLACE]!r})"
    )
    with subprocess.Popen(
        [sys.executable, "-u", "-c", code],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as running:
        assert running.stderr is not None
        assert re.match(r"forecast \d+ of \d+", running.stderr.readline())
        time.sleep(0.05)
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=60)
    assert running.returncode == 130, err
    assert "Traceback" not in err
    assert "Stopped before the end" in " ".join(out.split())
    assert out.startswith("In ")


def test_every_word_of_the_picture_is_large_enough_on_a_phone():
    """9 px or more where the picture is 390 px wide, as of the soil's picture."""
    from matplotlib.text import Text  # noqa: PLC0415

    figure = build_check(checked(truth="model"))
    shown = [one.get_fontsize() for one in figure.findobj(Text) if one.get_text().strip()]
    assert min(shown) / 72.0 * 390.0 / figure.get_figwidth() >= 9.0
