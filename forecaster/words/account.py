"""What was read, in words: format, units, rows, refusals, gaps, suspects, notes."""

from __future__ import annotations

from forecaster.forecast.doubts import GRIDDED_AIR
from forecaster.ingest.account import Account
from forecaster.words.phrases import count, sentence

__all__ = ["GRIDDED_AIR", "account_words", "refused_words", "taken_words"]

LISTED = 3


def account_words(title: str, account: Account, *, by_hand: bool = False) -> list[str]:
    """Return the account of one file: a heading, then paragraphs.

    Days without a reading are no gap in a log kept `by_hand`.
    """
    where = f"{title}: {account.path}"
    if account.station and account.station not in where:
        where += f" (station {account.station})"
    words = [
        where,
        _because(account.format, account.why_format),
        _because(account.units, account.why_units, "Temperatures in "),
        *_columns(account),
        _rows(account),
        *_refusals(account),
        _pauses(account) if by_hand else _gaps(account),
        *_suspects(account),
        *(sentence(note) for note in account.notes),
    ]
    return [text for text in words if text]


def taken_words(account: Account) -> str:
    """Return in a few words which file was read, and how much of it was used."""
    rows = count(account.rows_read, "row")
    if account.rows_used < account.rows_read:
        rows = f"{account.rows_used:,} of {rows}"
    named = _last_name(account.path, "")
    station = f"station {account.station}, " if account.station not in ("", named) else ""
    return f"{named} ({station}{rows})"


def refused_words(account: Account) -> list[str]:
    """Return what was refused, doubted or taken as it was not written, a sentence each."""
    words = [] if account.rows_used >= account.rows_read else [_rows(account)]
    words += [text.removeprefix("· ") for text in _suspects(account)]
    words += [sentence(note) for note in account.notes]
    named = _last_name(account.path, "")
    return [f"{named}: {text[0].lower()}{text[1:]}" for text in words]


def _because(what: str, why: str, before: str = "") -> str:
    if not what:
        return ""
    return sentence(f"{before}{what}" + (f" – {why}" if why else ""))


def _columns(account: Account) -> list[str]:
    """Say column by column what was taken as what, and what was left, those of a kind together."""
    taken = [f"{column.name!r} as {column.taken}" for column in account.columns if column.taken]
    left: dict[str, list[str]] = {}
    for column in account.columns:
        if not column.taken:
            left.setdefault(column.why, []).append(repr(column.name))
    words = [f"Columns taken: {'; '.join(taken)}."] if taken else []
    if left:
        kinds = [f"{_several(names)} ({why})" for why, names in left.items()]
        words.append(f"Columns left: {'; '.join(kinds)}. Say otherwise with --column.")
    return words


def _several(names: list[str]) -> str:
    more = len(names) - LISTED
    return ", ".join(names[:LISTED]) + (f" and {more} more" if more > 0 else "")


def _rows(account: Account) -> str:
    refused = account.rows_read - account.rows_used
    if refused <= 0:
        return f"{count(account.rows_read, 'row')} read, all used."
    reasons = ", ".join(f"{n:,} × {reason}" for reason, n in account.refused_count.items())
    return (
        f"{count(account.rows_read, 'row')} read, {account.rows_used:,} used, {refused:,} refused"
        + (f": {reasons}." if reasons else ".")
    )


def _refusals(account: Account) -> list[str]:
    shown = [
        f"· {_last_name(row.file)}line {row.line}: {row.reason}" for row in account.refused[:LISTED]
    ]
    more = sum(account.refused_count.values()) - len(shown)
    return [*shown, f"· and {more:,} more"] if shown and more > 0 else shown


def _last_name(file: str, end: str = ", ") -> str:
    """Return a file's name without its folders, with what follows it."""
    return f"{file.replace(chr(92), '/').rstrip('/').rsplit('/', 1)[-1]}{end}" if file else ""


def _gaps(account: Account) -> str:
    if account.gap_days <= 0:
        return ""
    longest = f"; the longest: {account.longest_gap}" if account.longest_gap else ""
    return f"{count(account.gap_days, 'day')} without a value{longest}."


def _pauses(account: Account) -> str:
    return f"Longest pause: {account.longest_gap}." if account.longest_gap else ""


def _suspects(account: Account) -> list[str]:
    shown = [
        f"· Suspect: {s.kind} in {s.column}, {s.first}"
        f"{'' if s.last == s.first else f' to {s.last}'}, "
        f"{count(s.values, 'value')} {s.action}" + (f" ({s.note})" if s.note else "")
        for s in account.suspects[:LISTED]
    ]
    more = len(account.suspects) - len(shown)
    if more > 0:
        shown.append(f"· and {more:,} more suspect stretch" + ("es." if more > 1 else "."))
    return shown
