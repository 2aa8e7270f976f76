"""The door to the public services: an answer kept from before, or a careful request.

First decide (is there an answer, is it fresh, may we ask?), then act. Kept answers lie in one
SQLite file as JSON text, so that opening a cache never runs code from it.
"""

from __future__ import annotations

import sqlite3
import time
import zlib
from collections.abc import Callable
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from types import TracebackType
from typing import Literal, Self

import requests
from platformdirs import user_cache_path
from requests_cache import NEVER_EXPIRE, CachedSession
from requests_cache.models.response import CachedResponse
from urllib3.exceptions import HTTPError, LocationParseError

from forecaster.fetch.ask import (
    LARGEST_BYTES,
    Answer,
    NoAnswer,
    Refused,
    Request,
    check_base,
    expires,
    next_wait,
)
from forecaster.fetch.guard import SILENCE_S, WHOLE_BODY_S, Guard
from forecaster.fetch.kept import KeptAnswers, refuse_other_file
from forecaster.ground.errors import DataMissing, InputError

CACHE_NAME = "fetched.sqlite"
MOST_REDIRECTS = 5


def user_agent(contact: str = "") -> str:
    """Return how we introduce ourselves, and where who asks can be reached if that is told."""
    try:
        version = metadata.version("crossday")
    except metadata.PackageNotFoundError:
        version = "0"
    if contact:
        return f"crossday/{version} {contact}"
    return f"crossday/{version} (soil temperature forecasts; python-requests)"


def default_cache() -> Path:
    """Return the usual place for kept answers on this system, for this user.

    Raises
    ------
    InputError
        If this user has no home folder.
    """
    try:
        return user_cache_path("crossday", appauthor=False, opinion=False) / CACHE_NAME
    except RuntimeError as error:
        raise InputError("no home folder to keep answers in; name a file with --cache") from error


def _cache_file(named: str | Path) -> Path:
    """Return the file meant by a path: itself, or one inside it where it has no ending."""
    if not str(named).strip() or "\0" in str(named):
        raise InputError(f"--cache is {str(named)!r}; expected the name of a file")
    path = Path(named).absolute()
    return path if path.suffix else path / CACHE_NAME


def decide(
    known: CachedResponse | None, *, offline: bool, refresh: bool = False
) -> Literal["serve", "serve stale", "ask", "refuse"]:
    """Decide what to do, from what is kept and whether we may ask."""
    if known is not None and not known.is_expired and not refresh:
        return "serve"
    if not offline:
        return "ask"
    return "refuse" if known is None else "serve stale"


class Fetcher:
    """A way to ask the public services; use it in a ``with`` block.

    Parameters
    ----------
    cache : path, optional
        SQLite file of kept answers, or a folder for it (a name without an ending), made where
        it does not exist; default `default_cache`.
    offline : bool
        Ask nobody: only kept answers serve, however old.
    refresh : bool
        Ask for everything anew; what is kept serves only where nobody answers.
    base : str, optional
        Origin asked instead of the services, for tests: plain HTTP on this computer only.
    sleep : callable
        Waits some seconds between tries.
    silence_s, whole_s : float
        Longest silence, and longest time for one body, in seconds.

    Raises
    ------
    InputError
        If the cache cannot be opened.
    """

    def __init__(
        self,
        cache: str | Path | None = None,
        *,
        offline: bool = False,
        refresh: bool = False,
        base: str | None = None,
        sleep: Callable[[float], None] = time.sleep,
        silence_s: float = SILENCE_S,
        whole_s: float = WHOLE_BODY_S,
    ) -> None:
        if refresh and offline:
            raise InputError("--refresh asks the services, --offline nobody; leave one of them out")
        self._base, self._offline, self._sleep = check_base(base), offline, sleep
        self._refresh = refresh
        self._path = _cache_file(cache) if cache is not None else default_cache()
        self._guard = Guard(self._base, silence_s=silence_s, whole_s=whole_s)
        self._failed = False
        self._session = self._open()

    def _open(self) -> CachedSession:
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            refuse_other_file(self._path)
            kept = KeptAnswers(self._path)
            len(kept.responses)
        except (OSError, sqlite3.Error) as error:
            raise self._unusable(error) from error
        session = CachedSession(backend=kept, allowable_codes=(200,), stale_if_error=False)
        session.headers.update({"User-Agent": user_agent(), "Accept-Encoding": "gzip"})
        session.verify, session.max_redirects = True, MOST_REDIRECTS
        session.trust_env = self._base is None
        session.mount("https://", self._guard)
        session.mount("http://", self._guard)
        return session

    def _unusable(self, error: Exception) -> InputError:
        if getattr(error, "sqlite_errorname", "").startswith("SQLITE_BUSY"):
            return InputError(
                f"{self._path}: the file of kept answers is in use by another program, and stayed "
                "so; try again, or name another with --cache"
            )
        return InputError(
            f"{self._path}: kept answers cannot be used ({error}); "
            "name another place with --cache, or delete the file"
        )

    def __enter__(self) -> Self:
        """Return itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close connections and the file of kept answers."""
        self.close()

    def close(self) -> None:
        """Close connections and the file of kept answers."""
        self._session.close()  # type: ignore[no-untyped-call]

    def ask(self, request: Request) -> Answer:
        """Return a service's answer: kept if fresh, new otherwise, stale if there is no other.

        Raises
        ------
        DataMissing
            If there is neither, with the service's name and the reason in one line.
        InputError
            If the file of kept answers cannot be read or written.
        """
        try:
            return self._ask(request)
        except sqlite3.Error as error:
            raise self._unusable(error) from error

    def _ask(self, request: Request) -> Answer:
        headers = {"Accept": ", ".join(request.kinds)}
        if request.contact:
            headers["User-Agent"] = user_agent(request.contact)
        prepared = self._session.prepare_request(
            requests.Request("GET", request.url(self._base), headers=headers)
        )
        known = self._known(prepared, request)
        plan = decide(known, offline=self._offline, refresh=self._refresh)
        if plan == "refuse" or (known is None and self._offline):
            raise DataMissing(
                f"{request.service}: no answer kept from before, and --offline asks nobody; "
                "run once without --offline"
            )
        if known is not None and plan != "ask":
            return _answer(known, stale=plan == "serve stale", why="offline" * (plan != "serve"))
        try:
            return self._try(prepared, request)
        except (NoAnswer, Refused) as failure:
            # Whoever has just failed four times is asked once for the next thing.
            self._failed = self._failed or getattr(failure, "again", False)
            if known is not None:
                return _answer(known, stale=True, why=str(failure))
            raise DataMissing(
                f"{request.service} ({request.host}) {failure}; no older answer is kept. "
                "Try again later, or give your own file"
            ) from failure

    def _known(self, prepared: requests.PreparedRequest, request: Request) -> CachedResponse | None:
        """Return what is kept, fresh or not; what is not whole is dropped and counts as nothing."""
        key = self._session.cache.create_key(prepared)
        try:
            found = self._session.cache.get_response(key)
            if found is None or not request.check(_body_of(found, request.largest_bytes)):
                return found
        except sqlite3.OperationalError:  # locked, or out of reach: nothing wrong with the answer
            raise
        except Exception:  # noqa: BLE001, S110 - a damaged text may raise anything while it is read
            pass
        self._session.cache.delete(key)
        return None

    def _try(self, prepared: requests.PreparedRequest, request: Request) -> Answer:
        """Ask, and again after a while where that may help."""
        attempt = 0
        while True:
            attempt += 1
            try:
                return self._once(prepared, request)
            except NoAnswer as failure:
                if failure.code == 404 and request.absent_ok:
                    return Answer(
                        body=b"",
                        url=prepared.url or "",
                        fetched=_now(),
                        age=_now() - _now(),
                        absent=True,
                    )
                wait_s = None if self._failed else next_wait(failure, attempt)
                if wait_s is None:
                    raise
                self._sleep(wait_s)

    def _once(self, prepared: requests.PreparedRequest, request: Request) -> Answer:
        """Ask once; every failure becomes a `NoAnswer` or a `Refused`."""
        session = self._session
        session.settings.expire_after = NEVER_EXPIRE if request.keep is None else request.keep
        self._guard.asked = request
        settings = session.merge_environment_settings(str(prepared.url), {}, None, True, None)
        try:
            response = session.send(
                prepared.copy(), allow_redirects=True, force_refresh=self._refresh, **settings
            )
        except requests.TooManyRedirects as error:
            raise NoAnswer(f"redirected more than {MOST_REDIRECTS} times") from error
        except requests.exceptions.SSLError as error:
            raise NoAnswer("has a certificate that cannot be verified") from error
        except requests.Timeout as error:
            raise NoAnswer("did not answer in time", again=True) from error
        except requests.exceptions.ChunkedEncodingError as error:
            raise NoAnswer("broke off in the middle of its answer", again=True) from error
        except requests.exceptions.ContentDecodingError as error:
            raise NoAnswer("sent a packed answer that cannot be unpacked") from error
        except requests.ConnectionError as error:
            raise NoAnswer("cannot be reached", again=True) from error
        except (LocationParseError, requests.exceptions.InvalidURL) as error:
            raise NoAnswer("redirected to an address that is none") from error
        except (requests.RequestException, HTTPError, OSError) as error:
            raise NoAnswer(f"cannot be asked ({type(error).__name__})") from error
        except ValueError as error:  # from the parser of addresses
            raise NoAnswer("redirected to an address that is none") from error
        finally:
            self._guard.asked = None
        return self._settle(response, prepared, request)

    def _settle(
        self, response: requests.Response, prepared: requests.PreparedRequest, request: Request
    ) -> Answer:
        """Mark a confirmed answer as of now, and keep no answer without rows.

        One that heeds its own ``Expires`` is kept to it.
        """
        key = self._session.cache.create_key(prepared)
        confirmed = isinstance(response, CachedResponse) and response.revalidated
        until = getattr(response, "expires", None)
        if request.heeds_expires and request.keep is not None:
            until = expires(response.headers.get("Expires"), _now(), request.keep)
        if confirmed:
            response.created_at = _now()  # type: ignore[attr-defined]
        if confirmed or request.heeds_expires:
            self._session.cache.save_response(response, key, until)
        answer = _answer(response)
        if not answer.body.strip():
            self._session.cache.delete(key)
        return answer


def _now() -> datetime:
    return datetime.now(UTC)


def _body_of(response: requests.Response, most: int) -> bytes:
    """Return a kept body, unpacked within bounds.

    Raises
    ------
    ValueError
        If it is larger, or not whole.
    """
    engine = zlib.decompressobj()
    body = engine.decompress(response.content, most + 1)
    if len(body) > most or not engine.eof or engine.unused_data:
        raise ValueError("a kept answer is not whole")
    return body


def _answer(response: requests.Response, *, stale: bool = False, why: str = "") -> Answer:
    fetched = getattr(response, "created_at", None) or _now()
    body = _body_of(response, LARGEST_BYTES)
    return Answer(
        body=body, url=response.url, fetched=fetched, age=_now() - fetched, stale=stale, why=why
    )
