"""Crop windows of a place: dates in order, joint members, seasons of both hemispheres."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from forecaster.answers.crops import Wish, crop_windows, find_crop, known_crops
from forecaster.answers.crops.reasons import BEST_ADVISED
from forecaster.forecast.soil import forecast_soil
from forecaster.ground.errors import InputError
from forecaster.ground.site import Site
from forecaster.rules.crops import CropThreshold

SITE = Site(45.0)
SPRING = date(2027, 3, 15)
AUTUMN = date(2026, 8, 25)


@pytest.fixture(scope="module")
def air(make_air):
    return make_air(days=8 * 365 + 100)  # 2019 to the spring of 2027


def ask(air, *names, today=SPRING, site=SITE, **wish):
    crops = [find_crop(name) for name in names]
    return crop_windows(air, site, crops, today=today, wish=Wish(**wish), members=150)


def test_dates_are_in_order(air):
    answer = ask(air, "tomato", "zinnia", "petunia")
    for window in answer.windows:
        assert window.state == "ahead"
        for span in (window.opens, window.best, window.closes):
            known = [day for day in (span.early, span.median, span.late) if day is not None]
            assert known == sorted(known)
            assert 0.0 <= span.probability <= 1.0
            assert span.reason
        assert window.opens.median <= window.best.median <= window.closes.median
        assert window.closes.median <= window.possible_until
        assert window.best.median >= SPRING
    assert answer.today == SPRING
    assert len(answer.frost) == 3


def test_a_crop_that_wants_warmer_soil_opens_later(air):
    tomato = find_crop("tomato")
    opened = []
    for value_c in (12.0, 15.0, 18.0):
        crop = replace(tomato, thresholds=(CropThreshold(role="minimum", value_c=value_c),))
        (window,) = crop_windows(air, SITE, [crop], today=SPRING, members=150).windows
        opened.append(window.opens)
    for one, other in pairwise(opened):
        assert one.median <= other.median
        assert one.early <= other.early


def test_more_accepted_risk_opens_no_later_and_brings_more_frost(air):
    careful, bold = (ask(air, "petunia", "tomato", season="spring", risk=r) for r in (0.05, 0.4))
    for one, other in zip(careful.windows, bold.windows, strict=True):
        assert other.opens.median <= one.opens.median
        assert other.frost_after >= one.frost_after
        assert one.frost_after <= 0.05


def test_a_colder_bed_opens_no_earlier(air):
    here, hollow = (ask(air, "tomato", offset_c=offset).windows[0] for offset in (0.0, -3.0))
    assert hollow.opens.median >= here.opens.median
    assert hollow.closes.median <= here.closes.median


def test_what_is_to_root_before_winter_goes_in_in_autumn(air):
    (window,) = ask(air, "pansy", today=AUTUMN, season="autumn").windows
    assert window.season == "autumn"
    assert window.opens.median <= window.best.median <= window.closes.median
    soil = forecast_soil(air, replace(SITE, cover="bare"), issued=AUTUMN, horizon_days=120)
    cool = soil.soil_c.mean(axis=0) <= window.threshold.used.value_c + 0.3
    if window.best.reason == BEST_ADVISED:  # the day itself is below the limit, not only its roots
        assert cool[soil.dates.get_loc(pd.Timestamp(window.best.median))]
    less, more = (
        ask(air, "pansy", today=AUTUMN, season="autumn", rooting_days=n).windows[0]
        for n in (10, 28)
    )
    assert more.closes.median < less.closes.median


def test_a_window_that_is_over_gives_way_to_the_next(air):
    (window,) = ask(air, "pansy", today=date(2027, 1, 10), season="autumn").windows
    assert window.state == "ahead"
    assert window.opens.median > date(2027, 6, 21)
    (late,) = ask(air, "pansy", today=date(2026, 12, 20), season="autumn").windows
    assert late.closed_on < date(2026, 12, 20) < late.opens.median


def test_without_a_season_the_next_window_answers(air):
    """Lettuce in February answers for spring, in August for autumn."""
    early, late = (ask(air, "lettuce", today=day).windows[0] for day in (date(2027, 2, 10), AUTUMN))
    assert (early.season, late.season) == ("spring", "autumn")
    for window in (early, late):
        asked = ask(air, "lettuce", today=date(2027, 2, 10) if window is early else AUTUMN,
                    season=window.season).windows[0]  # fmt: skip
        assert asked == replace(window, other=None)


def test_company_and_order_change_nothing(air):
    alone = [ask(air, name).windows[0] for name in ("tomato", "pea", "pansy")]
    together = ask(air, "pansy", "kale", "pea", "tomato").windows
    assert [together[at] for at in (3, 2, 0)] == alone


def test_a_bed_is_bare_soil_unless_it_is_said_to_be_covered(air):
    grass, bare, mulch = (
        ask(air, "tomato", site=replace(SITE, cover=cover)) for cover in ("grass", "bare", "mulch")
    )
    assert grass.windows == bare.windows
    assert any("taken to be bare soil" in note for note in grass.notes)
    assert mulch.windows[0].opens.median >= bare.windows[0].opens.median


def test_half_a_year_apart_on_the_other_half_of_the_world(make_air):
    north = ask(make_air(days=3000), "tomato", today=date(2027, 3, 1)).windows[0]
    southern = make_air(days=3000, warmest=200.0 - 182.6)
    south = ask(southern, "tomato", today=date(2026, 9, 1), site=Site(-45.0)).windows[0]
    apart = abs((north.opens.median - south.opens.median).days)
    assert abs(apart - 183) < 25  # other weather, the same climate


def test_sown_seed_comes_up_after_it_is_sown(air):
    (bean,) = ask(air, "snap bean").windows
    assert bean.use == "seed"
    assert bean.sown == bean.best.median
    assert bean.sown < bean.emergence.early <= bean.emergence.median <= bean.emergence.late
    (late,) = ask(air, "snap bean", sown=date(2027, 7, 10)).windows
    warm, cool = ((each.emergence.median - each.sown).days for each in (late, bean))
    assert warm <= cool
    assert 5 <= warm <= 16  # the table's least, and its figure at 59 °F


def test_a_record_of_means_has_no_frost_to_answer_with(air):
    means = pd.DataFrame({"tavg_c": (air["tmin_c"] + air["tmax_c"]) / 2.0})
    answer = ask(means, "tomato")
    (window,) = answer.windows
    assert answer.frost == ()
    assert window.frost_after is None
    assert "frost is not reckoned with" in window.opens.reason
    assert any("daily means only" in note for note in answer.notes)
    assert forecast_soil(means, SITE, issued=SPRING, horizon_days=5).tmin_c is None


def test_rows_after_today_change_nothing(air):
    whole, cut = (
        ask(a, "tomato", "pansy", today=AUTUMN) for a in (air, air.loc[: pd.Timestamp(AUTUMN)])
    )
    assert whole == cut


def test_same_seed_same_answer(air):
    assert ask(air, "zinnia") == ask(air, "zinnia")


def test_a_crop_without_a_figure_or_with_limits_crossed_is_refused(air):
    bare = replace(find_crop("tomato"), thresholds=(), germination=())
    with pytest.raises(InputError, match="no figure says"):
        crop_windows(air, SITE, [bare], today=SPRING)
    rows = (
        CropThreshold(role="upper_limit", value_c=8.0),
        CropThreshold(role="lower_limit", value_c=9.0),
    )
    crossed = replace(find_crop("pansy"), thresholds=rows)
    with pytest.raises(InputError, match="lower limit is not below"):
        crop_windows(air, SITE, [crossed], today=AUTUMN)
    with pytest.raises(InputError, match="begins only on"):
        ask(air, "tomato", today=date(2018, 1, 1))


@pytest.mark.parametrize("wrong", [{"risk": 2.0}, {"rooting_days": 0}, {"season_days": 999}])
def test_wishes_that_cannot_be_are_refused(wrong):
    with pytest.raises(InputError):
        Wish(**wrong)


def test_every_crop_answers_in_its_season(air):
    answer = crop_windows(air, SITE, list(known_crops().values()), today=SPRING, members=60)
    assert len(answer.windows) == len(known_crops())
    assert sum(window.state != "none" for window in answer.windows) > 40


# --- the members' minima -------------------------------------------------------------------


def test_members_carry_the_recorded_minima_and_plausible_ones_ahead(air):
    forecast = forecast_soil(air, SITE, issued=AUTUMN, start="2026-08-01", horizon_days=300)
    assert forecast.tmin_c.shape == forecast.soil_c.shape
    past = forecast.dates <= pd.Timestamp(AUTUMN)
    recorded = air.loc[forecast.dates[past], "tmin_c"].to_numpy()
    assert (forecast.tmin_c[:, past] == recorded).all()
    assert np.isfinite(forecast.tmin_c).all()
    # What is drawn for the winter is what winters here are: mean and spread of the record.
    ahead = (forecast.dates >= "2026-12-01") & (forecast.dates < "2027-03-01")
    drawn = forecast.tmin_c[:, ahead]
    winters = air.loc[air.index.month.isin([12, 1, 2]), "tmin_c"].loc[: str(AUTUMN)]
    # Eight winters: their mean is known to about a third of a degree, the spread to a tenth.
    assert drawn.mean() == pytest.approx(winters.mean(), abs=0.8)
    assert drawn.std() == pytest.approx(winters.std(), rel=0.15)


def test_an_outlook_draws_the_minima_of_its_days_to_its_own(air):
    days = pd.date_range(AUTUMN + timedelta(days=1), periods=4)
    outlook = pd.DataFrame({"tmin_c": [1.0, 2.0, 3.0, np.nan], "tmax_c": 12.0}, index=days)
    forecast = forecast_soil(air, SITE, issued=AUTUMN, horizon_days=10, outlook=outlook)
    at = forecast.dates.get_indexer(days[:3])
    plain = forecast_soil(air, SITE, issued=AUTUMN, horizon_days=10).tmin_c[:, at]
    gap, usual = (
        np.abs(each.mean(axis=0) - [1.0, 2.0, 3.0]) for each in (forecast.tmin_c[:, at], plain)
    )
    assert (gap < 0.5 * usual).all()
    assert (forecast.tmin_c[:, at].std(axis=0) < plain.std(axis=0)).all()
    assert np.isfinite(forecast.tmin_c).all()


def test_a_season_to_come_can_be_meant(air):
    runs = ask(air, "tomato").windows[0].season_start
    meant = ask(air, "tomato", begins=runs + timedelta(days=366), season="spring")
    meant = meant.windows[0].season_start
    assert timedelta(days=364) <= meant - runs <= timedelta(days=367)
    assert ask(air, "tomato", begins=runs + timedelta(days=20)).windows[0].season_start == runs
