"""Every row is used or refused for one reason."""

import numpy as np

from forecaster.ingest.checks.tally import LISTED_IN_ALL, LISTED_PER_REASON, Tally


def test_a_row_is_refused_once():
    tally = Tally(np.arange(2, 7))
    tally.refuse(np.array([1, 0, 0, 0, 0], bool), "no date")
    tally.refuse(np.array([1, 1, 0, 0, 0], bool), "bad", ["a", "b" * 60, b"c", "", ""])
    tally.refuse(np.zeros(5, bool), "never")
    assert tally.rows_used == 3
    assert tally.counts() == {"no date": 1, "bad": 1}
    first, second = tally.listed()
    assert (first.line, first.reason, first.file) == (2, "no date", "")
    assert second.reason == "bad: '" + "b" * 37 + "...'"


def test_lists_are_limited_and_counts_are_not():
    tally = Tally(np.arange(20_000))
    for k in range(20):
        rows = np.zeros(20_000, bool)
        rows[k * 1000 : k * 1000 + 900] = True
        tally.refuse(rows, f"reason {k}", np.arange(20_000).astype(object))
    assert sum(tally.counts().values()) == 18_000 == 20_000 - tally.rows_used
    listed = tally.listed()
    assert len(listed) == LISTED_IN_ALL
    assert sum(r.reason.startswith("reason 3:") for r in listed) == LISTED_PER_REASON
    assert [r.line for r in listed] == sorted(r.line for r in listed)


def test_joined_tallies_name_their_files():
    one, two = Tally(np.array([5, 6]), "a"), Tally(np.array([2]), "b")
    one.refuse(np.array([False, True]), "bad", ["", b"x"])
    two.refuse(np.array([True]), "worse")
    joined = Tally.join([one, two])
    assert joined.counts() == {"bad": 1, "worse": 1}
    assert [(r.file, r.line, r.reason) for r in joined.listed()] == [
        ("a", 6, "bad: 'x'"),
        ("b", 2, "worse"),
    ]
    assert Tally.join([one]) is one
    assert Tally(np.array([], dtype=int)).listed() == ()
