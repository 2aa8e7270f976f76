"""What to ask of whom, how long an answer keeps, and when to try again: values, no network."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from email.utils import parsedate_to_datetime
from urllib.parse import quote, urlencode, urlsplit

from forecaster.ground.errors import DataMissing, InputError

NCEI_HOST, NWS_HOST = "www.ncei.noaa.gov", "api.weather.gov"
POWER_HOST, MET_HOST = "power.larc.nasa.gov", "api.met.no"
HOSTS = frozenset({NCEI_HOST, NWS_HOST, POWER_HOST, MET_HOST})
LARGEST_BYTES = 100_000_000
"""No answer may be larger, as sent or unpacked; the largest list is about 35 MB."""
LARGEST_RECORD_BYTES = 10_000_000
"""Of a station's days: five years are about 0.3 MB."""
PROVISIONAL_DAYS = 45
"""Our rule, not the service's: it revises recent days (see `settled_until`)."""

FORECAST_KEEPS = timedelta(hours=1)
THIS_YEAR_KEEPS = timedelta(hours=6)
LISTS_KEEP = timedelta(days=7)
GRID_KEEPS = timedelta(days=1)
EXPIRES_AT_MOST = timedelta(days=1)
"""A forecast is asked for again after a day, whatever its ``Expires`` says."""

TRIES = 4
FIRST_WAIT_S, LONGEST_WAIT_S = 1.0, 60.0
TRY_AGAIN = frozenset({429, 500, 502, 503, 504})
LOOPBACK = frozenset({"127.0.0.1", "::1"})


def _no_complaint(_body: bytes) -> str:
    return ""


def _not_known(_body: bytes) -> bool:
    return False


def _as_it_is(body: bytes) -> bytes:
    return body


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One question to a public service.

    Parameters
    ----------
    service : str
        Who is asked, in words for messages.
    host : str
        One of `HOSTS`.
    path : str
        Path of the address, unquoted.
    kinds : tuple of str
        Content types that may come back.
    keep : timedelta, optional
        How long an answer counts as fresh; None for ever.
    query : tuple of (name, value)
        The address's query.
    largest_bytes : int
        Refuse a larger answer.
    check : callable
        Says in words what is wrong with a body, "" if nothing; a body that is wrong is not kept,
        and one that was kept and is wrong now is dropped. It takes the trimmed body too.
    ends : callable
        Whether a body shows by itself that nothing of it is missing. It is asked where neither a
        length, nor chunks, nor a packed stream with its sum said so.
    trim : callable
        Takes the part of a body that is worth keeping.
    absent_ok : bool
        Whether "not found" is an answer.
    heeds_expires : bool
        Whether an answer keeps to its own ``Expires``, within a day; else, and without one, as
        long as `keep` says.
    contact : str
        An address of the person who asks, sent along with our name; "" for none.
    """

    service: str
    host: str
    path: str
    kinds: tuple[str, ...]
    keep: timedelta | None
    query: tuple[tuple[str, str], ...] = ()
    largest_bytes: int = LARGEST_BYTES
    check: Callable[[bytes], str] = _no_complaint
    ends: Callable[[bytes], bool] = _not_known
    trim: Callable[[bytes], bytes] = _as_it_is
    absent_ok: bool = False
    heeds_expires: bool = False
    contact: str = ""

    def url(self, base: str | None = None) -> str:
        """Return the address, on another origin where `base` is given (tests only)."""
        query = f"?{urlencode(self.query, safe=',')}" if self.query else ""
        return f"{base or f'https://{self.host}'}{quote(self.path, safe='/,')}{query}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came back, and how old it is.

    Parameters
    ----------
    body : bytes
        The answer, unpacked; empty where `absent`.
    url : str
        Where it came from.
    fetched : datetime
        When the service last gave or confirmed it (UTC).
    age : timedelta
        Time since then.
    stale : bool
        Whether it is older than it should be, and serves because the service did not answer.
    why : str
        What kept us from a fresh one, "" otherwise.
    absent : bool
        Whether the service has no such thing.
    """

    body: bytes
    url: str
    fetched: datetime
    age: timedelta
    stale: bool = False
    why: str = ""
    absent: bool = False


class Refused(DataMissing):
    """An address or answer that must not be used: tried once, said, never kept."""


class NoDays(DataMissing):
    """The service answered, and has no such days."""


class NoAnswer(DataMissing):
    """A service that did not answer as it should.

    Parameters
    ----------
    problem : str
        What happened, without the service's name.
    again : bool
        Whether trying again may help.
    wait_s : float, optional
        What the service itself asks us to wait, seconds.
    code : int, optional
        The HTTP status, where there was one.
    """

    def __init__(
        self,
        problem: str,
        *,
        again: bool = False,
        wait_s: float | None = None,
        code: int | None = None,
    ) -> None:
        self.problem, self.again, self.wait_s, self.code = problem, again, wait_s, code
        super().__init__(problem)


def check_base(base: str | None) -> str | None:
    """Return an origin for tests as it is, if it is plain HTTP on this computer.

    Raises
    ------
    InputError
        If it is any other address.
    """
    if base is None:
        return None
    parts = urlsplit(base)
    rest = parts.path or parts.query or parts.fragment or parts.username or parts.password
    if parts.scheme != "http" or parts.hostname not in LOOPBACK or rest or not parts.port:
        raise InputError(
            f"base is {base!r}; expected http on this computer, as http://127.0.0.1:80"
        )
    return base


def check_url(url: str, base: str | None = None) -> None:
    """Let only listed hosts pass, over HTTPS, without a name, password or port of their own.

    Raises
    ------
    Refused
        If the address is any other.
    """
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError as error:
        raise Refused(f"refused to go to {url[:100]!r}: {error}") from error
    ours = f"{parts.scheme}://{parts.netloc}" == base
    bare = parts.username is None and parts.password is None and port in (None, 443)
    listed = parts.scheme == "https" and parts.hostname in HOSTS and bare
    if ours if base is not None else listed:
        return
    raise Refused(
        f"refused to go to {parts.scheme[:10]}://{(parts.netloc or '')[:80]}; "
        f"expected https and one of {', '.join(sorted(HOSTS))}"
    )


def settled_until(today: date, provisional_days: int = PROVISIONAL_DAYS) -> date:
    """Return the last day that no longer changes as a rule; later days are provisional.

    GHCN-Daily is updated daily, and built anew from its sources about weekly ("GHCN-Daily
    readme.txt", section on the process; from memory): near-real-time reports are replaced by
    checked ones weeks later. The service states no day after which nothing changes; 45 days is
    our choice. Another service's days, `provisional_days`, stand in its module.
    """
    return today - timedelta(days=provisional_days)


def keep_days(last: date, today: date) -> timedelta | None:
    """Return how long daily records up to `last` keep: for ever once all of them are settled."""
    return None if last <= settled_until(today) else THIS_YEAR_KEEPS


def retry_after(header: str | None, now: datetime) -> float | None:
    """Return the seconds that a ``Retry-After`` header asks for: a number or an HTTP date.

    RFC 9110, section 10.2.3. None where there is no header, or it cannot be read.

    >>> from datetime import datetime, UTC
    >>> retry_after("Wed, 21 Oct 2015 07:28:00 GMT", datetime(2015, 10, 21, 7, 27, 30, tzinfo=UTC))
    30.0
    """
    text = (header or "").strip()
    if re.fullmatch(r"[0-9]{1,9}", text):
        return float(text)
    when = _http_date(text)
    return None if when is None else max((when - now).total_seconds(), 0.0)


def expires(header: str | None, now: datetime, keep: timedelta) -> datetime:
    """Return when an answer stops being fresh, by its ``Expires`` header, within a day.

    RFC 9110, section 5.6.7 (dates), and RFC 9111, section 5.3: what is no date, such as 0, is a
    date in the past. Without a header it keeps as long as `keep`.

    >>> from datetime import datetime, timedelta, UTC
    >>> now = datetime(2015, 10, 21, 7, 0, tzinfo=UTC)
    >>> expires("Wed, 21 Oct 2015 07:28:00 GMT", now, timedelta(hours=1)) - now
    datetime.timedelta(seconds=1680)
    """
    if header is None:
        return now + keep
    return min(max(_http_date(header.strip()) or now, now), now + EXPIRES_AT_MOST)


def _http_date(text: str) -> datetime | None:
    try:
        when = parsedate_to_datetime(text)
    except (ValueError, IndexError, TypeError, OverflowError):
        return None
    return when if when.tzinfo else when.replace(tzinfo=UTC)


def next_wait(failure: NoAnswer, attempt: int) -> float | None:
    """Return the seconds to wait before trying again, None for giving up.

    Parameters
    ----------
    failure : NoAnswer
        What happened.
    attempt : int
        Tries made so far, from 1.
    """
    if not failure.again or attempt >= TRIES:
        return None
    if failure.wait_s is None:
        return float(min(FIRST_WAIT_S * 2.0 ** (attempt - 1), LONGEST_WAIT_S))
    return None if failure.wait_s > LONGEST_WAIT_S else failure.wait_s


def spoken(text: str, most: int = 160) -> str:
    """Return foreign text fit for one line of a message: no control characters, not too long."""
    plain = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return plain if len(plain) <= most else f"{plain[: most - 1]}…"


def is_page(body: bytes) -> bool:
    """Whether a body is a web page or XML, whatever its label says."""
    opening = body[:400].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    return opening.startswith((b"<!doctype", b"<html", b"<?xml", b"<head", b"<body", b"<error"))
