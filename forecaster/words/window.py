"""One window in words: a sentence to act on, then what stands behind it."""

from __future__ import annotations

from datetime import date

from forecaster.answers.window import Window
from forecaster.words.phrases import (
    HALF_WIDTH_SDS,
    Show,
    between,
    clock,
    count,
    counted,
    degrees,
    difference,
    known,
    length,
    odds,
    percent,
    say_day,
    say_years,
    sentence,
    short_day,
)

VERDICTS = {
    "go": "plant now",
    "wait": "wait",
    "late": "late",
    "no season": "no window now",
    "unsure": "check first",
}
FLAT_C_PER_WEEK = 0.06
"""A slower trend is said to be steady: it would round to 0.1 °F a week."""
WEEK_COLUMN = 8
MOST_WEEKS = 14
"""A longer table leaves out every second week."""
SURE_BY = 0.95
"""The table of weeks goes on until so many futures have settled."""
LEAST_NARROWING_DAYS = 0.5


def lead(window: Window, today: date, show: Show = "F") -> str:
    """Return the sentence to act on.

    Parameters
    ----------
    window : Window
    today : date
        Day on which the forecast is issued.
    show : {"F", "C"}
        Scale in which temperatures are said.
    """
    parts = [", ".join(part for part in said(window, today, show) if part)]
    parts.append(_touch(window, today, show))
    words = "; ".join(part for part in parts if part)
    return f"{window.threshold.label}: {as_of(window, today)}{words}."


def what(window: Window, show: Show = "F") -> str:
    """Return what is to be done, and why: the first of the three lines of an answer."""
    reason = window.reason.strip().rstrip(".")
    advice = f"{window.threshold.label}: {VERDICTS[window.verdict]}"
    advice = f"{advice} – {reason}" if reason else advice
    decides = window.so_far.go_c
    if window.verdict == "unsure" and decides is not None:
        advice += (
            f". Read the soil today: if its mean of the day is {_side(window)} "
            f"{degrees(decides, show)}, plant"
        )
    return f"{advice}."


def brief(window: Window, today: date, show: Show = "F") -> str:
    """Return the answer on one line: what, when and how sure."""
    when, sure = said(window, today, show)
    told = f"{as_of(window, today)}{when}" + (f" ({sure})" if sure else "")
    return f"{window.threshold.label}: {VERDICTS[window.verdict]}; {told}."


def as_of(window: Window, today: date) -> str:
    """Return what an answer begins with where it is of a day long past; else nothing."""
    if not window.so_far.stale_days:
        return ""
    return f"if the weather since {say_day(window.so_far.last_day, today)} was as usual, "


def stale_words(last_day: date | None, stale_days: int) -> str:
    """Say how old the record is where it is too old to go by; else nothing."""
    if not stale_days or last_day is None:
        return ""
    return (
        f"The air record ends on {say_day(last_day, last_day)} {last_day.year}, "
        f"{count(stale_days, 'day')} before the day asked about, and no reading is newer: "
        "every date below is a guess from there. Get newer air, or read the soil now."
    )


def window_words(
    window: Window, today: date, show: Show, width: int, *, first: bool = True
) -> list[str]:
    """Return the verdict and what stands behind the sentence, as `behind` gives it."""
    reason = window.reason.strip()
    verdict = f"Today: {VERDICTS[window.verdict]}"
    verdict += f" – {reason.rstrip('.')}." if reason else "."
    return [verdict, *behind(window, today, show, width, first=first)]


def behind(window: Window, today: date, show: Show, width: int, *, first: bool = True) -> list[str]:
    """Return what stands behind an answer: paragraphs, and the table of weeks ready-made.

    The soil of the day is said with the `first` window of an answer only.
    """
    parts = [
        *weeks(window, width),
        usual_words(window),
        _odd_years(window),
        *([soil_words(window, today, show)] if first else []),
        _touched_since(window),
        _three_dates(window, today, show),
        _thermometer(window, today, show),
        worth_words(window, today),
    ]
    return [part for part in parts if part]


def _side(window: Window) -> str:
    return "below" if window.threshold.direction == "falling" else "above"


def _season(window: Window) -> str:
    return "autumn" if window.threshold.direction == "falling" else "spring"


def _goal(window: Window, show: Show) -> str:
    return f"{_side(window)} {degrees(window.threshold.threshold_c, show)}"


def said(window: Window, today: date, show: Show = "F") -> tuple[str, str]:
    """Return when it settles, and how sure that is; the second may be empty."""
    out, goal = window.outlook, _goal(window, show)
    if out.early is None or out.median is None or out.late is None:
        return _doubtful(window, today, show)
    if out.late <= window.season_start:
        first = say_day(window.season_start, today)
        return f"the soil is {goal} from the season's first day, {first}", ""
    sure = f"80 % chance {between(out.early, out.late, today)}"
    about = f"{goal} about {say_day(out.median, today)}"
    if out.late <= today:
        return f"the soil settled {about}", sure
    done = window.so_far.settled_chance
    already = f", {odds(done)} that it already has" if known(done) and done >= 0.05 else ""
    return f"the soil settles {about}", f"{sure}{already}"


def _doubtful(window: Window, today: date, show: Show) -> tuple[str, str]:
    """Say so where a tenth of the futures or more never settle."""
    out, goal, season = window.outlook, _goal(window, show), _season(window)
    never = f"{odds(out.never)} chance" if known(out.never) else "a real chance"
    if out.median is not None:
        first = f", 10 % by {say_day(out.early, today)}" if out.early is not None else ""
        return (
            f"the soil settles {goal} about {say_day(out.median, today)}, if it does",
            f"50 % chance by then{first}, {never} that it never does this {season}",
        )
    if out.early is not None:
        return (
            f"the soil may never settle {goal} this {season}",
            f"{never} of that; if it does, hardly before {say_day(out.early, today)}",
        )
    if known(out.never) and out.never >= 0.5:
        return f"the soil is not expected to settle {goal} this {season}", f"{never} of never"
    return f"no date can be given on which the soil settles {goal}", ""


def touch_words(window: Window, today: date, show: Show) -> str:
    """Say it as a sentence that the soil was there for a few days; nothing where it was not."""
    return sentence(_touch(window, today, show))


def _touch(window: Window, today: date, show: Show) -> str:
    """Say that the soil was there for a few days, and what such touches were worth."""
    so_far = window.so_far
    if so_far.first_touch is None or so_far.first_touch <= window.season_start:
        return ""
    if window.outlook.late is not None and window.outlook.late <= today:
        return ""
    touch_c = so_far.touch_c
    mark = _goal(window, show) if touch_c is None or not known(touch_c) else degrees(touch_c, show)
    words = f"it was first {mark} on {say_day(so_far.first_touch, today)}"
    if so_far.touches:
        lasted = so_far.touches - so_far.came_back
        words += f", but such a first time lasted in {lasted} of {count(so_far.touches, 'season')}"
    return words.replace(", but such", ", and such") if so_far.came_back == 0 else words


def weeks(window: Window, width: int) -> list[str]:
    """Return the chances by week as lines of a table, in pieces that fit the width."""
    cells = [(short_day(day), percent(chance)) for day, chance in weeks_shown(window)]
    if not cells:
        return []
    if known(window.outlook.never) and window.outlook.never >= 0.01:
        cells.append(("never", percent(window.outlook.never)))
    heads = ("Settled by", "Chance")
    room = max(1, (width - len(heads[0]) - 2) // WEEK_COLUMN)
    lines: list[str] = []
    for start in range(0, len(cells), room):
        piece = cells[start : start + room]
        lines.append(
            "\n".join(
                f"{head:<{len(heads[0])}}"
                + "".join(f"{cell[row]:>{WEEK_COLUMN}}" for cell in piece)
                for row, head in enumerate(heads)
            )
        )
    return lines


def weeks_shown(window: Window) -> list[tuple[date, float]]:
    """Return the weeks of a table: from the last without a chance to the first at 95 %."""
    known_weeks = [(day, chance) for day, chance in window.outlook.by_week if known(chance)]
    while len(known_weeks) > 1 and known_weeks[1][1] < 0.01:
        known_weeks = known_weeks[1:]
    chances = [chance for _, chance in known_weeks]
    last = next((k for k, chance in enumerate(chances) if chance >= SURE_BY), len(chances) - 1)
    # What never settles keeps the sum below 95 %: then the table ends where it no longer grows.
    last = next((k for k in range(last) if chances[k] == chances[last]), last)
    if last < 1 or chances[last] < 0.01:
        return []
    step = 2 if last >= MOST_WEEKS else 1
    return known_weeks[last::-step][::-1]


def usual_words(window: Window) -> str:
    """Say when it settled in past seasons, and how well this ground is known."""
    typical, season = window.typical, _season(window)
    years = [year for year, _ in typical.dates]
    if not years:
        return f"Usually here: not known; the record holds no whole {season}."
    over = f"{count(len(years), season)} {say_years((min(years), max(years)))}"
    over = over.replace(" and ", "–") if len(years) > 1 else over
    if typical.median is None:
        if len(typical.never_years) * 2 >= len(years):
            return f"Usually here ({over}): it does not settle {_side(window)} this temperature."
        return f"Usually here: not told from {over}; too few for a typical window."
    words = f"Usually here ({over}): {_no_year(typical.median)}"
    if typical.early is not None and typical.late is not None:
        words += f", 8 years in 10 {_no_year_span(typical.early, typical.late)}"
    if known(typical.ground_days) and typical.ground_days >= 0.5:
        words += (
            f"; give or take {count(typical.ground_days, 'day')}, until readings show how this "
            "ground differs from others"
        )
    return words + "."


def _no_year(day: date) -> str:
    return say_day(day, day)


def _no_year_span(first: date, last: date) -> str:
    """Return a span of usual dates: they belong to every year."""
    if first.year == last.year:
        return between(first, last, last)
    return f"between {_no_year(first)} and {_no_year(last)}"


def _odd_years(window: Window) -> str:
    typical, words = window.typical, []
    if typical.never_years:
        words.append(f"Never crossed in {say_years(typical.never_years)}.")
    if typical.already_years:
        years = say_years(typical.already_years)
        words.append(f"Already {_side(window)} it when the season began in {years}.")
    return " ".join(words)


def soil_words(window: Window, today: date, show: Show) -> str:
    """Say how warm the soil is on the record's last day, and where it is going."""
    so_far = window.so_far
    if not known(so_far.soil_c):
        return ""
    words = (
        f"The soil on {say_day(so_far.last_day, today)}: {degrees(so_far.soil_c, show, both=True)}"
    )
    if known(so_far.sd_c):
        words += f", ±{difference(HALF_WIDTH_SDS * so_far.sd_c, show)} (80 % sure)"
    trend = so_far.trend_c_per_week
    if known(trend):
        slope = "falling" if trend < 0 else "rising"
        steady = abs(trend) < FLAT_C_PER_WEEK
        words += ", steady" if steady else f", {slope} {difference(trend, show)} a week"
    return words + "."


def _touched_since(window: Window) -> str:
    """Say how long ago the soil first got there this season."""
    so_far, side = window.so_far, _side(window)
    if so_far.first_touch is None:
        begun = window.season_start <= so_far.last_day
        return f"This season so far: not yet {side} it." if begun else ""
    if so_far.first_touch <= window.season_start:
        return f"This season so far: {side} it since the season began."
    since = (so_far.last_day - so_far.first_touch).days
    if since <= 0:
        return f"This season so far: first {side} it on the last day of the record."
    return f"This season so far: first {side} it {count(since, 'day')} ago."


def _three_dates(window: Window, today: date, show: Show) -> str:
    """Say when the soil first gets there, settles, and last comes back."""
    out = window.outlook
    if out.median is None or out.first_touch is None or out.first_touch == out.median:
        return ""
    words = (
        f"First {_goal(window, show)} about {say_day(out.first_touch, today)}, "
        f"settled about {say_day(out.median, today)}"
    )
    if out.last_touch is not None and out.last_touch > out.median:
        back = "above" if window.threshold.direction == "falling" else "below"
        words += f", {back} it for the last time about {say_day(out.last_touch, today)}"
    return f"{words}."


def _thermometer(window: Window, today: date, show: Show) -> str:
    """Say when a thermometer read at an hour shows it, and why the dates are not that."""
    goal = _goal(window, show)
    dates = [
        (clock(one.hour), say_day(one.median, today))
        for one in window.outlook.shown
        if one.median is not None
    ]
    if not dates or window.outlook.median is None:
        return ""
    (hour, day), *rest = dates
    words = f"A thermometer read at {hour} stays {goal} from about {day}"
    words += "".join(f", one read at {hour} from about {day}" for hour, day in rest)
    return f"{words}; the dates here go by the day's mean, in which roots live."


def worth_words(window: Window, today: date) -> str:
    """Say what the next reading buys; nothing where that is not known."""
    worth = window.worth
    if worth is None or not all(
        known(days) for days in (worth.now_days, worth.one_today_days, worth.weekly_days)
    ):
        return ""
    now, one, weekly = (
        _width(days) for days in (worth.now_days, worth.one_today_days, worth.weekly_days)
    )
    words = f"What the next reading buys: the dates of the 80 % chance lie {now} apart; "
    if worth.now_days - worth.weekly_days < LEAST_NARROWING_DAYS:
        if window.season_start > today:
            return ""
        return words + "more readings would hardly narrow it, the weather to come decides."
    if worth.now_days - worth.one_today_days < LEAST_NARROWING_DAYS:
        words += f"one today would hardly narrow it, one a week for four weeks to about {weekly}"
    else:
        words += f"one today narrows it to about {one}, one a week for four weeks to about {weekly}"
    if known(worth.best_hour) and known(worth.best_depth_m):
        deep = length(worth.best_depth_m)
        words += f". Worth most at {clock(worth.best_hour)} standard time, {deep} down"
    return words + "."


def _width(days: float) -> str:
    """Return a width in days, to the half day where it is short."""
    return counted(round(days * 2.0) / 2.0 if days < 10 else days, 0 if days >= 10 else 1, "day")
