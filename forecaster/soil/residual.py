"""What the model leaves over at a place: a Gaussian process, and what readings teach of it.

reading − model = yearly terms + g(t)·(slow + fast) + error of the reading

The yearly terms are an offset and three harmonics of the year that a place keeps. Slow and
fast are first-order autoregressive (Ornstein–Uhlenbeck) processes with memories of weeks and
of days; g lets their size change with the season. Such a process has a sparse precision
matrix: one banded Cholesky factor answers for past and future days together, in time linear
in days (Rue & Held 2005, Gaussian Markov Random Fields, §2.4; section from memory). Readings
on the same day are merged first, so time does not grow with readings a day.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from forecaster.ground.arrays import Bools, Floats, Ints
from forecaster.ground.errors import InputError
from forecaster.soil.season import harmonics

YEARLY_HARMONICS = 3
LEAST_SURPRISE_C = 3.0
REACH_MEMORIES = 6.0  # past this many slow memories a reading says nothing of the slow part


@dataclass(frozen=True, slots=True, kw_only=True)
class ResidualPrior:
    """What is left over before any reading, fitted on stations (``data/soil_model.json``).

    Parameters
    ----------
    yearly_mean_c : (7,) array
        Expected offset, cos, sin, cos 2, sin 2, cos 3, sin 3, °C.
    yearly_covariance : (7, 7) array
        Their covariance, °C².
    slow_sd_c, slow_memory_days : float
        Standard deviation and e-folding time of the slow part.
    fast_sd_c, fast_memory_days : float
        The same of the fast part.
    season_gain : (3,) array
        ln g(t) as the coefficients of 1, cos, sin of the year.
    """

    yearly_mean_c: Floats
    yearly_covariance: Floats
    slow_sd_c: float
    slow_memory_days: float
    fast_sd_c: float
    fast_memory_days: float
    season_gain: Floats

    def __post_init__(self) -> None:
        """Refuse what is not a process."""
        sizes = (self.slow_sd_c, self.slow_memory_days, self.fast_sd_c, self.fast_memory_days)
        if not all(np.isfinite(size) and size > 0.0 for size in sizes):
            raise InputError(f"residual sizes and memories are {sizes}; expected positive numbers")

    def gain(self, columns: Floats) -> Floats:
        """Return g on the days of `columns` (from `harmonics`), dimensionless."""
        return np.asarray(np.exp(columns[:, :3] @ self.season_gain))

    def sd_c(self, day: Ints) -> Floats:
        """Return the standard deviation of the residual on each day, °C, with no reading."""
        return self.sd_on(harmonics(day, YEARLY_HARMONICS))

    def sd_on(self, columns: Floats) -> Floats:
        """Return the same for days whose `harmonics` are known already."""
        yearly = ((columns @ self.yearly_covariance) * columns).sum(axis=1)
        wandering = (self.slow_sd_c**2 + self.fast_sd_c**2) * self.gain(columns) ** 2
        return np.asarray(np.sqrt(yearly + wandering))


@dataclass(frozen=True, slots=True)
class Evidence:
    """Readings less model, at most one a day.

    Parameters
    ----------
    day : (m,) array of int
        Days since 1970-01-01, rising.
    residual_c : (m,) array
        Reading as a daily mean, less the model, °C.
    error_c : (m,) array
        Standard error of that, each day's own, °C, > 0.
    shared_c : (m,) or (m, k) array
        Errors that all readings share, °C: how far each moves if a share is one standard
        deviation high. Those of the correction for the hour are of this kind.
    apart_c : float
        Standard deviation of what lies between the depth read and the depth asked about, °C:
        no number of readings at the one tells it of the other.
    """

    day: Ints
    residual_c: Floats
    error_c: Floats
    shared_c: Floats
    apart_c: float = 0.0

    @staticmethod
    def merged(day: Ints, residual_c: Floats, error_c: Floats, shared_c: Floats) -> Evidence:
        """Return one value a day: the mean weighted by precision, its error by the sum."""
        days, where = np.unique(day, return_inverse=True)
        precision = error_c**-2
        weight = np.bincount(where, precision)
        value = np.bincount(where, residual_c * precision) / weight
        columns = shared_c.reshape(day.size, -1).T
        shared = [np.bincount(where, column * precision) / weight for column in columns]
        return Evidence(days, value, 1.0 / np.sqrt(weight), np.stack(shared, axis=1))

    def last(self, count: int) -> Evidence:
        """Return the last days of it."""
        return replace(
            self,
            day=self.day[-count:],
            residual_c=self.residual_c[-count:],
            error_c=self.error_c[-count:],
            shared_c=self.shared_c[-count:],
        )

    @property
    def shared_sd_c(self) -> Floats:
        """Standard deviation of what each shares with the others, °C, (m,) array."""
        return np.asarray(np.linalg.norm(np.column_stack([self.shared_c]), axis=1))

    @property
    def empty(self) -> bool:
        """True if there is no reading."""
        return self.day.size == 0


NO_EVIDENCE = Evidence(np.empty(0, dtype=np.int64), np.empty(0), np.empty(0), np.empty((0, 2)))


class Posterior:
    """The residual on a run of days, given the readings on some of them.

    Parameters
    ----------
    prior : ResidualPrior
    evidence : Evidence
        Its days must lie on the run.
    first, last : int
        The run, days since 1970-01-01, both included.

    Raises
    ------
    InputError
        If a reading lies outside the run.
    """

    def __init__(self, prior: ResidualPrior, evidence: Evidence, first: int, last: int) -> None:
        if evidence.day.size and (evidence.day[0] < first or evidence.day[-1] > last):
            raise InputError("a reading lies outside the days asked about")
        self.prior, self.evidence = prior, evidence
        self.day = np.arange(first, last + 1)
        columns = harmonics(self.day, YEARLY_HARMONICS)
        gain = prior.gain(columns)
        self._load = np.stack([prior.slow_sd_c * gain, prior.fast_sd_c * gain], axis=1)
        self._at = evidence.day - first
        # what stays: the yearly terms, and the errors that all readings share (no day has them)
        self._regressors = np.column_stack([columns[self._at], evidence.shared_c])
        shares = self._regressors.shape[1] - columns.shape[1]
        self._columns = np.column_stack([columns, np.zeros((self.day.size, shares))])
        terms = columns.shape[1]
        self._start_mean = np.append(prior.yearly_mean_c, np.zeros(shares))
        self._start_covariance = np.eye(terms + shares)
        self._start_covariance[:terms, :terms] = prior.yearly_covariance
        self._factor = self._banded_factor()

    def _banded_factor(self) -> Floats:
        """Return the upper banded Cholesky factor of the precision of (slow, fast) by day."""
        import scipy.linalg  # noqa: PLC0415 - not needed without readings

        days = self.day.size
        band = np.zeros((3, days, 2))
        memories = (self.prior.slow_memory_days, self.prior.fast_memory_days)
        for part, memory in enumerate(memories):
            decay = np.exp(-1.0 / memory)
            innovation = 1.0 / (1.0 - decay**2)
            band[2, :, part] = (1.0 + decay**2) * innovation
            band[2, [0, -1], part] = innovation if days > 1 else 1.0
            band[0, 1:, part] = -decay * innovation
        weight = self.evidence.error_c**-2
        load = self._load[self._at]
        band[2, self._at] += weight[:, None] * load**2
        band[1, self._at, 1] += weight * load[:, 0] * load[:, 1]
        return np.asarray(scipy.linalg.cholesky_banded(band.reshape(3, 2 * days)))

    def _solve(self, right: Floats) -> Floats:
        """Return precision⁻¹ · right for (2·days, k) columns."""
        import scipy.linalg  # noqa: PLC0415

        return np.asarray(scipy.linalg.cho_solve_banded((self._factor, False), right))

    def _gather(self, per_reading: Floats) -> Floats:
        """Return Aᵀ·R⁻¹·(m, k) values on readings as (2·days, k) columns."""
        weight = self.evidence.error_c**-2
        result = np.zeros((self.day.size, 2, per_reading.shape[1]))
        result[self._at] = (self._load[self._at] * weight[:, None])[:, :, None] * per_reading[
            :, None, :
        ]
        return result.reshape(2 * self.day.size, -1)

    def _project(self, state: Floats) -> Floats:
        """Return g·(slow + fast) by day for (2·days, k) columns of state."""
        slow, fast = self._load.T[:, :, None]
        return np.asarray(slow * state[::2] + fast * state[1::2])

    @cached_property
    def _yearly(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Mean and covariance of what stays, and the wandering part's answer to y and to Z."""
        z, y, weight = self._regressors, self.evidence.residual_c, self.evidence.error_c**-2
        answer = self._project(self._solve(self._gather(np.column_stack([y, z]))))
        to_y, to_z = answer[:, 0], answer[:, 1:]
        prior_precision = np.linalg.inv(self._start_covariance)
        precision = prior_precision + (z.T * weight) @ (z - to_z[self._at])
        covariance = np.asarray(np.linalg.inv((precision + precision.T) / 2), dtype=np.float64)
        mean = covariance @ (
            prior_precision @ self._start_mean + (z.T * weight) @ (y - to_y[self._at])
        )
        return mean, covariance, to_y, to_z

    @property
    def mean_c(self) -> Floats:
        """Expected residual by day, °C, (days,) array."""
        mean, _, to_y, to_z = self._yearly
        return np.asarray(to_y + (self._columns - to_z) @ mean)

    @cached_property
    def sd_c(self) -> Floats:
        """Standard deviation of the residual by day, °C, (days,) array."""
        return np.asarray(np.hypot(self._told_sd_c, self._apart_c))

    @cached_property
    def _told_sd_c(self) -> Floats:
        """Standard deviation by day as if every reading stood at the depth asked about, °C."""
        _, covariance, _, to_z = self._yearly
        rest = self._columns - to_z
        yearly = ((rest @ covariance) * rest).sum(axis=1)
        return np.asarray(np.sqrt(yearly + self._wandering_variance))

    @property
    def _apart_c(self) -> Floats:
        """What the depths between leave open, the more the readings narrow the rest, °C."""
        terms = self.prior.yearly_mean_c.size
        share = self._told_sd_c / self.prior.sd_on(self._columns[:, :terms])
        return np.asarray(self.evidence.apart_c * np.sqrt(np.maximum(1.0 - share**2, 0.0)))

    def at_readings(self) -> tuple[Floats, Floats]:
        """Return what the readings should have shown and its standard deviation, (m,) each."""
        mean, covariance, to_y, to_z = self._yearly
        rest = self._regressors - to_z[self._at]
        stays = ((rest @ covariance) * rest).sum(axis=1)
        sd = np.sqrt(stays + self._wandering_variance[self._at])
        return np.asarray(to_y[self._at] + rest @ mean), np.asarray(sd)

    def yearly_after(self) -> ResidualPrior:
        """Return the process with its yearly terms as the readings leave them.

        It serves days that lie too far from every reading for the slow part to reach.
        """
        mean, covariance, _, _ = self._yearly
        terms = self.prior.yearly_mean_c.size
        own = covariance[:terms, :terms]
        return replace(self.prior, yearly_mean_c=mean[:terms], yearly_covariance=own)

    @cached_property
    def _wandering_variance(self) -> Floats:
        """Return the variance of g·(slow + fast) by day with the yearly terms known.

        The diagonal blocks of the inverse come from the banded factor, last day first
        (Takahashi's recursion; Rue & Held 2005 §2.4.5, section from memory).
        """
        second, first, pivot = (row.tolist() for row in self._factor)
        size = len(pivot)
        variance, covariance = [0.0] * size, [0.0] * size
        ahead = (0.0, 0.0, 0.0)  # Σ[i+1, i+1], Σ[i+1, i+2], Σ[i+2, i+2]
        for i in range(size - 1, -1, -1):
            u1 = first[i + 1] if i + 1 < size else 0.0
            u2 = second[i + 2] if i + 2 < size else 0.0
            u0 = pivot[i]
            c1 = -(u1 * ahead[0] + u2 * ahead[1]) / u0
            c2 = -(u1 * ahead[1] + u2 * ahead[2]) / u0
            own = (1.0 / u0 - u1 * c1 - u2 * c2) / u0
            variance[i], covariance[i] = own, c1
            ahead = (own, c1, ahead[0])
        own_2 = np.array(variance).reshape(-1, 2)
        cross = np.array(covariance)[::2]
        slow, fast = self._load.T
        return np.asarray(slow**2 * own_2[:, 0] + fast**2 * own_2[:, 1] + 2 * slow * fast * cross)

    def draw(self, count: int, random: np.random.Generator, since: int | None = None) -> Floats:
        """Return joint draws of the residual, (count, days) array, °C.

        Only the days from `since` on if it is given: the factor is solved from the last day
        back, so later days are drawn exactly without the earlier ones.
        """
        import scipy.linalg  # noqa: PLC0415

        skip = 0 if since is None else since - int(self.day[0])
        mean, covariance, to_y, to_z = self._yearly
        yearly = mean + even_normal(random, count, mean.size) @ np.linalg.cholesky(covariance).T
        white = random.standard_normal(((count + 1) // 2, 2 * (self.day.size - skip)))
        factor = self._factor[:, 2 * skip :]
        state = scipy.linalg.lapack.dtbtrs(factor, white.T, uplo="U", trans="N", overwrite_b=1)[0].T
        slow, fast = self._load[skip:].T
        half = slow * state[:, ::2] + fast * state[:, 1::2]
        drawn = np.concatenate([half, -half])[:count]  # a mirrored draw is solved mirrored
        drawn += to_y[skip:] + yearly @ (self._columns - to_z)[skip:].T
        if self.evidence.apart_c > 0.0:
            drawn += random.standard_normal((count, 1)) * self._apart_c[skip:]
        return np.asarray(drawn)

    def log_evidence(self) -> float:
        """Return the log-likelihood of the readings under the prior."""
        z, y = self._regressors, self.evidence.residual_c
        error = self.evidence.error_c
        _, covariance, to_y, to_z = self._yearly
        start = self._start_mean
        given = y - z @ start
        # r' V⁻¹ r with V = A Σ Aᵀ + R + Z S Zᵀ, by Woodbury in two steps
        through = given - (to_y - to_z @ start)[self._at]
        half = (z.T / error**2) @ through
        square = float(given / error**2 @ through - half @ covariance @ half)
        # |prior precision| of a first-order autoregression of unit variance is (1 − φ²)^(1 − days)
        memories = np.array([self.prior.slow_memory_days, self.prior.fast_memory_days])
        prior_logdet = (1 - self.day.size) * np.log1p(-np.exp(-2.0 / memories)).sum()
        logdet = (
            2.0 * float(np.log(self._factor[2]).sum())
            - float(prior_logdet)
            + 2.0 * float(np.log(error).sum())
            + float(np.linalg.slogdet(self._start_covariance)[1])
            - float(np.linalg.slogdet(covariance)[1])
        )
        return -0.5 * (square + logdet + y.size * float(np.log(2.0 * np.pi)))


def _mirrored(random: np.random.Generator, count: int, size: int) -> Floats:
    """Return standard normal draws, (count, size), each with its mirror image: no mean of luck."""
    half = random.standard_normal(((count + 1) // 2, size))
    return np.concatenate([half, -half])[:count]


def even_normal(random: np.random.Generator, count: int, size: int) -> Floats:
    """Return the same with unit covariance exactly, where the draws are many enough for that."""
    drawn = _mirrored(random, count, size)
    if count < 4 * size:
        return drawn
    drawn -= drawn.mean(axis=0)
    root = np.linalg.cholesky(drawn.T @ drawn / count)
    return np.asarray(np.linalg.solve(root, drawn.T).T)


def weigh_outliers(
    prior: ResidualPrior, evidence: Evidence, limit: float = 4.0
) -> tuple[Evidence, Bools]:
    """Return readings whose errors are widened where the others contradict them.

    Each reading is held against what all others and the prior foretell of it. Beyond `limit`
    standard deviations, and by 3 °C at least (a cold front moves a daily mean by less), its
    error grows to the size of the surprise, so that one taken in the
    sun or in the wrong unit is named and hardly moves the answer. The worst comes first, ten
    at most.

    Parameters
    ----------
    prior : ResidualPrior
    evidence : Evidence
    limit : float
        Standard deviations; 4 calls about 1 good reading in 16,000 an outlier.

    Returns
    -------
    Evidence, (m,) array of bool
        The readings with their new errors, and which are outliers.
    """
    outlier = np.zeros(evidence.day.size, dtype=bool)
    current = evidence
    for _ in range(10):
        if current.empty:
            break
        after = Posterior(prior, current, int(current.day[0]), int(current.day[-1]))
        fitted, sd = after.at_readings()
        share = np.minimum((sd / current.error_c) ** 2, 1.0 - 1e-9)
        surprise = (current.residual_c - fitted) / (1.0 - share)
        spread = current.error_c / np.sqrt(1.0 - share)
        beyond = np.abs(surprise) / np.maximum(limit * spread, LEAST_SURPRISE_C)
        worst = int(np.argmax(beyond))
        if beyond[worst] <= 1.0:
            break
        outlier[worst] = True
        error = current.error_c.copy()
        error[worst] = max(abs(surprise[worst]), 3.0 * error[worst])
        current = replace(current, error_c=error)
    return current, outlier
