"""The residual process against a plain dense Gaussian process."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.ground.errors import InputError
from forecaster.soil.residual import (
    NO_EVIDENCE,
    YEARLY_HARMONICS,
    Evidence,
    Posterior,
    ResidualPrior,
    weigh_outliers,
)
from forecaster.soil.season import harmonics

START = 19_000
SEEDS = st.integers(0, 2**32 - 1)
BY_DAY = ("day", "residual_c", "error_c", "shared_c")


def some_prior(random, season=True):
    root = random.normal(size=(7, 7)) * 0.4
    return ResidualPrior(
        yearly_mean_c=random.normal(size=7),
        yearly_covariance=root @ root.T + 0.01 * np.eye(7),
        slow_sd_c=random.uniform(0.3, 1.5),
        slow_memory_days=random.uniform(10.0, 90.0),
        fast_sd_c=random.uniform(0.3, 1.5),
        fast_memory_days=random.uniform(1.0, 6.0),
        season_gain=np.array([0.0, *random.normal(size=2) * 0.2]) if season else np.zeros(3),
    )


def some_evidence(random, days, count, shared=0.3):
    day = START + np.sort(random.choice(days, count, replace=False))
    return Evidence(
        day,
        random.normal(size=count) * 2.0,
        random.uniform(0.1, 1.0, count),
        random.normal(size=(count, 2)) * shared,
    )


def dense_prior(prior, day):
    """Mean and covariance by day, straight from the definition."""
    columns = harmonics(day, YEARLY_HARMONICS)
    apart = np.abs(day[:, None] - day[None, :])
    wandering = prior.slow_sd_c**2 * np.exp(-apart / prior.slow_memory_days)
    wandering += prior.fast_sd_c**2 * np.exp(-apart / prior.fast_memory_days)
    gain = np.exp(columns[:, :3] @ prior.season_gain)
    covariance = columns @ prior.yearly_covariance @ columns.T + np.outer(gain, gain) * wandering
    return columns @ prior.yearly_mean_c, covariance


def dense_answer(prior, evidence, day):
    """Posterior mean and covariance and the log-likelihood of the readings, no trick used."""
    mean, covariance = dense_prior(prior, day)
    at = evidence.day - day[0]
    error = np.diag(evidence.error_c**2) + evidence.shared_c @ evidence.shared_c.T
    among = covariance[np.ix_(at, at)] + error
    miss = evidence.residual_c - mean[at]
    gain = np.linalg.solve(among, covariance[at]).T
    _, logdet = np.linalg.slogdet(among)
    evidence_log = -0.5 * (
        miss @ np.linalg.solve(among, miss) + logdet + at.size * np.log(2.0 * np.pi)
    )
    return mean + gain @ miss, covariance - gain @ covariance[at], evidence_log


@settings(max_examples=30, deadline=None)
@given(SEEDS, st.integers(1, 150), st.data())
def test_posterior_agrees_with_a_dense_gaussian_process(seed, days, data):
    random = np.random.default_rng(seed)
    prior = some_prior(random)
    evidence = some_evidence(random, days, data.draw(st.integers(1, days)))
    ours = Posterior(prior, evidence, START, START + days - 1)
    mean, covariance, log_evidence = dense_answer(prior, evidence, ours.day)
    np.testing.assert_allclose(ours.mean_c, mean, atol=1e-6)
    np.testing.assert_allclose(ours.sd_c, np.sqrt(np.diag(covariance)), atol=1e-6)
    assert ours.log_evidence() == pytest.approx(log_evidence, abs=1e-6)


@settings(max_examples=15, deadline=None)
@given(SEEDS)
def test_what_readings_should_have_shown_holds_their_shared_error(seed):
    random = np.random.default_rng(seed)
    prior, evidence = some_prior(random), some_evidence(random, 80, 12)
    fitted, sd = Posterior(prior, evidence, START, START + 79).at_readings()
    # the shared errors stay as the yearly terms do: state = (residual by day, both shares)
    day = START + np.arange(80)
    mean, covariance = dense_prior(prior, day)
    reads = np.zeros((12, 82))
    reads[np.arange(12), evidence.day - START] = 1.0
    reads[:, 80:] = evidence.shared_c
    whole = np.eye(82)
    whole[:80, :80] = covariance
    among = reads @ whole @ reads.T + np.diag(evidence.error_c**2)
    gain = np.linalg.solve(among, reads @ whole).T
    state = np.append(mean, [0.0, 0.0]) + gain @ (evidence.residual_c - reads[:, :80] @ mean)
    left = whole - gain @ reads @ whole
    np.testing.assert_allclose(fitted, reads @ state, atol=1e-6)
    np.testing.assert_allclose(sd, np.sqrt(np.diag(reads @ left @ reads.T)), atol=1e-6)


@settings(max_examples=15, deadline=None)
@given(SEEDS, st.integers(1, 900))
def test_without_readings_the_posterior_is_the_prior(seed, days):
    prior = some_prior(np.random.default_rng(seed))
    ours = Posterior(prior, NO_EVIDENCE, START, START + days - 1)
    columns = harmonics(ours.day, YEARLY_HARMONICS)
    np.testing.assert_allclose(ours.mean_c, columns @ prior.yearly_mean_c, atol=1e-9)
    np.testing.assert_allclose(ours.sd_c, prior.sd_c(ours.day), atol=1e-9)
    assert ours.log_evidence() == pytest.approx(0.0, abs=1e-6)
    np.testing.assert_allclose(ours.yearly_after().yearly_covariance, prior.yearly_covariance)


@pytest.mark.parametrize("since", [None, START + 15])
def test_draws_have_the_mean_and_covariance_of_the_dense_answer(since):
    skip = 0 if since is None else since - START
    random = np.random.default_rng(11)
    prior, evidence = some_prior(random), some_evidence(random, 40, 6)
    ours = Posterior(prior, evidence, START, START + 39)
    mean, covariance, _ = dense_answer(prior, evidence, ours.day)
    count = 40_000
    drawn = ours.draw(count, np.random.default_rng(12), since)
    mean, covariance = mean[skip:], covariance[skip:, skip:]
    assert drawn.shape == (count, 40 - skip)
    sd = np.sqrt(np.diag(covariance))
    # 5 standard errors: of a mean, and of a covariance (at most √2·sd·sd/√count)
    assert np.all(np.abs(drawn.mean(axis=0) - mean) < 5.0 * sd / np.sqrt(count))
    apart = np.abs(np.cov(drawn.T) - covariance)
    assert np.all(apart < 5.0 * np.sqrt(2.0 / count) * np.outer(sd, sd))


def test_draws_repeat_with_their_generator():
    prior = some_prior(np.random.default_rng(1))
    ours = Posterior(prior, NO_EVIDENCE, START, START + 9)
    first, second = (ours.draw(3, np.random.default_rng(5)) for _ in range(2))
    np.testing.assert_array_equal(first, second)


def test_work_grows_with_days_not_their_square():
    """The only array that holds the process is banded: three rows, two columns a day."""
    prior = some_prior(np.random.default_rng(2))
    for days in (100, 1_000, 10_000):
        ours = Posterior(prior, NO_EVIDENCE, START, START + days - 1)
        largest = max(np.size(value) for value in vars(ours).values())
        assert ours._factor.shape == (3, 2 * days)
        assert largest <= 9 * days  # the nine columns of what stays


def test_a_reading_outside_the_days_is_refused():
    evidence = Evidence(np.array([START + 5]), np.zeros(1), np.ones(1), np.zeros(1))
    prior = some_prior(np.random.default_rng(3))
    with pytest.raises(InputError, match="outside"):
        Posterior(prior, evidence, START, START + 4)


@pytest.mark.parametrize("size", [0.0, -1.0, np.nan, np.inf])
def test_a_size_that_is_no_size_is_refused(size):
    with pytest.raises(InputError, match="positive"):
        ResidualPrior(
            yearly_mean_c=np.zeros(7),
            yearly_covariance=np.eye(7),
            slow_sd_c=size,
            slow_memory_days=40.0,
            fast_sd_c=1.0,
            fast_memory_days=3.0,
            season_gain=np.zeros(3),
        )


def test_readings_at_another_depth_leave_open_what_lies_between():
    random = np.random.default_rng(11)
    prior, evidence = some_prior(random), some_evidence(random, 200, 60)
    elsewhere = replace(evidence, apart_c=0.5)
    here = Posterior(prior, evidence, START, START + 199)
    there = Posterior(prior, elsewhere, START, START + 199)
    np.testing.assert_allclose(there.mean_c, here.mean_c)
    assert np.all(there.sd_c > here.sd_c)
    assert np.all(there.sd_c**2 <= here.sd_c**2 + 0.25)
    drawn = there.draw(4000, np.random.default_rng(0)).std(axis=0)
    np.testing.assert_allclose(drawn, there.sd_c, rtol=0.06)  # 4,000 draws: 1 % standard error
    later = there.draw(4000, np.random.default_rng(0), START + 150).std(axis=0)
    np.testing.assert_allclose(later, there.sd_c[150:], rtol=0.06)


def test_more_readings_never_widen_the_answer():
    random = np.random.default_rng(4)
    prior, evidence = some_prior(random), some_evidence(random, 200, 30)
    few = Evidence(*(getattr(evidence, name)[::3] for name in BY_DAY))
    less = Posterior(prior, few, START, START + 199).sd_c
    more = Posterior(prior, evidence, START, START + 199).sd_c
    assert np.all(more <= less + 1e-9)
    assert np.all(less <= prior.sd_c(START + np.arange(200)) + 1e-9)


def test_merged_readings_answer_as_the_separate_ones():
    """Equal shares a day: merging loses nothing, so the dense answers agree."""
    random = np.random.default_rng(6)
    prior = some_prior(random)
    day = START + np.repeat([3, 17, 30], 4)
    value, error = random.normal(size=12), random.uniform(0.2, 1.0, 12)
    shared = np.repeat([0.3, -0.2, 0.1], 4)
    merged = Evidence.merged(day, value, error, shared)
    np.testing.assert_array_equal(merged.day, START + np.array([3, 17, 30]))
    weight = error[:4] ** -2
    assert merged.residual_c[0] == pytest.approx(np.average(value[:4], weights=weight))
    assert merged.error_c[0] == pytest.approx(weight.sum() ** -0.5)
    days = START + np.arange(40)
    separate_mean, separate_covariance, _ = dense_answer(
        prior, Evidence(day, value, error, shared[:, None]), days
    )
    ours = Posterior(prior, merged, START, START + 39)
    np.testing.assert_allclose(ours.mean_c, separate_mean, atol=1e-6)
    np.testing.assert_allclose(ours.sd_c, np.sqrt(np.diag(separate_covariance)), atol=1e-6)


def test_merged_takes_days_in_any_order():
    merged = Evidence.merged(
        np.array([9, 2, 9, 5]), np.array([1.0, 2.0, 3.0, 4.0]), np.ones(4), np.zeros(4)
    )
    np.testing.assert_array_equal(merged.day, [2, 5, 9])
    np.testing.assert_allclose(merged.residual_c, [2.0, 4.0, 2.0])


def fair_prior():
    return ResidualPrior(
        yearly_mean_c=np.zeros(7),
        yearly_covariance=np.diag([0.6, 1.1, 0.1, 0.1, 0.05, 0.01, 0.01]),
        slow_sd_c=0.74,
        slow_memory_days=45.0,
        fast_sd_c=0.8,
        fast_memory_days=4.0,
        season_gain=np.zeros(3),
    )


def fair_evidence(random, count=20):
    """Readings a week apart, drawn from the process itself, with their errors."""
    day = START + 7 * np.arange(count)
    drawn = Posterior(fair_prior(), NO_EVIDENCE, START, int(day[-1])).draw(1, random)[0]
    value = drawn[day - START] + random.normal(size=count) * 0.5
    return Evidence(day, value, np.full(count, 0.5), np.zeros(count))


def test_an_outlier_is_named_and_hardly_moves_the_answer():
    for seed in range(5):
        honest = fair_evidence(np.random.default_rng(seed))
        value = honest.residual_c.copy()
        value[8] += 25.0  # °F written for °C
        spoiled = Evidence(honest.day, value, honest.error_c, honest.shared_c)
        weighed, outlier = weigh_outliers(fair_prior(), spoiled)
        assert np.flatnonzero(outlier).tolist() == [8]
        last = int(honest.day[-1])
        without = Evidence(*(np.delete(getattr(honest, n), 8) for n in BY_DAY))
        clean = Posterior(fair_prior(), without, START, last).mean_c
        ours = Posterior(fair_prior(), weighed, START, last).mean_c
        naive = Posterior(fair_prior(), spoiled, START, last).mean_c
        assert np.abs(ours - clean).max() < 0.35
        assert np.abs(naive - clean).max() > 3.0


def test_fair_readings_are_rarely_called_outliers():
    called = sum(
        int(weigh_outliers(fair_prior(), fair_evidence(np.random.default_rng(seed)))[1].sum())
        for seed in range(40)
    )
    assert called <= 1  # 800 readings; 1 in 16 000 is expected


def test_no_readings_have_no_outliers():
    weighed, outlier = weigh_outliers(fair_prior(), NO_EVIDENCE)
    assert weighed.empty
    assert outlier.size == 0
