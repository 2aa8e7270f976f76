"""Readings and air: added once, contradictions shown, corrections remembered, undone as one."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecaster.book import (
    Bed,
    Note,
    Place,
    Planting,
    add_air,
    add_bed,
    add_note,
    add_place,
    add_planting,
    add_readings,
    air_span,
    batches,
    bed_readings,
    bed_site,
    beds,
    change_bed,
    find_bed,
    find_place,
    notes,
    open_book,
    place_air,
    plantings,
    reading_span,
    undo,
)
from forecaster.ground.errors import InputError, NotEnoughData
from forecaster.ingest import account_of, read_air, read_readings
from forecaster.packaged import data_path

COLUMNS = ["time", "temp_c", "depth_m", "span", "hour_known"]


def put(book, log, bed="north", kind="import", source="log.csv"):
    with book.batch(kind, source) as batch:
        return add_readings(batch, bed, log)


def air(first, tmin, tmax=None, **more):
    index = pd.date_range(first, periods=len(tmin), name="date")
    tmax = np.array(tmin) + 10.0 if tmax is None else tmax
    return pd.DataFrame({"tmin_c": tmin, "tmax_c": tmax, **more}, index=index, dtype=float)


def put_air(book, frame, source="air.csv", **how):
    with book.batch("import", source) as batch:
        return add_air(batch, "Eddermarl Terrace", frame, source=source, **how)


class TestReadings:
    def test_demo_log_reads_back_as_it_was_read(self, book):
        log = read_readings(data_path("demo/readings.csv"))
        put(book, log)
        pd.testing.assert_frame_equal(bed_readings(book, "north"), log)

    def test_the_same_log_again_adds_nothing(self, book, make_log, all_rows):
        assert put(book, make_log(50)).new == 50
        before = all_rows(book)
        again = put(book, make_log(50))
        assert (again.new, again.same, again.conflicts) == (0, 50, 0)
        assert all_rows(book) == before, "not even a batch"

    def test_a_longer_log_adds_what_is_new(self, book, make_log):
        put(book, make_log(50))
        longer = put(book, make_log(80))
        assert (longer.new, longer.same) == (30, 50)
        pd.testing.assert_frame_equal(bed_readings(book), make_log(80))

    def test_a_contradiction_is_shown_and_the_old_value_kept(self, book, make_log):
        put(book, make_log(10))
        other = make_log(10)
        other.loc[[2, 7], "temp_c"] += 3.0
        found = put(book, other)
        assert (found.new, found.same, found.conflicts) == (0, 8, 2)
        first = found.first_conflicts[0]
        assert first.time == "2026-03-01T09:40"
        assert first.given_c == pytest.approx(first.kept_c + 3.0)
        pd.testing.assert_frame_equal(bed_readings(book), make_log(10))

    def test_the_same_value_in_other_decimals_is_the_same(self, book, make_log):
        """61.5 °F is 16.388… °C; a logger that prints 16.39 says the same."""
        put(book, make_log(1, temp_c=(61.5 - 32) / 1.8))
        assert put(book, make_log(1, temp_c=16.39)).same == 1

    def test_depths_beds_and_spans_are_apart(self, book, make_log):
        with book.batch("bed", "south") as batch:
            add_bed(batch, Bed(name="south", place="Eddermarl Terrace"))
        put(book, make_log(3))
        assert put(book, make_log(3, temp_c=9.0, depth_m=0.2)).new == 3
        assert put(book, make_log(3, temp_c=9.0), bed="south").new == 3
        assert put(book, make_log(3, temp_c=9.0, span="day", hour_known=False)).new == 3

    def test_a_day_without_hours_may_hold_several_values(self, book, make_log):
        dated = make_log(1, start="2026-03-01", hour_known=False)
        put(book, dated)
        assert put(book, dated.assign(temp_c=18.0)).new == 1
        assert put(book, dated).same == 1

    def test_unknown_depth_is_the_thermometers(self, book, make_log):
        change_bed(book, "north", depth_m=0.15)
        put(book, make_log(2, depth_m=np.nan))
        found = bed_readings(book)
        assert found["depth_m"].tolist() == [0.15, 0.15]
        assert "2 readings without a depth" in account_of(found).notes[0]

    def test_each_row_knows_where_it_came_from(self, book, make_log):
        put(book, make_log(5), source="a.csv")
        put(book, make_log(9), source="b.csv")
        assert account_of(bed_readings(book)).why_format == "5 from a.csv, 4 from b.csv"

    def test_an_empty_bed_has_an_empty_table(self, book):
        found = bed_readings(book)
        assert list(found.columns) == COLUMNS
        assert len(found) == 0

    @settings(max_examples=25)
    @given(
        hours=st.lists(st.integers(0, 30), min_size=1, max_size=20),
        parts=st.lists(st.integers(1, 20), min_size=1, max_size=4),
    )
    def test_pieces_in_any_overlap_make_the_whole(self, tmp_path_factory, make_book, hours, parts):
        """Import of overlapping pieces equals import of everything at once."""
        whole = pd.DataFrame(
            {
                "time": pd.Timestamp("2026-03-01") + pd.to_timedelta(sorted(set(hours)), unit="h"),
                "temp_c": [10.0 + h / 10 for h in sorted(set(hours))],
                "depth_m": 0.1, "span": "instant", "hour_known": True,
            }
        )  # fmt: skip
        with make_book(tmp_path_factory.mktemp("p") / "garden.db") as book:
            for size in parts:
                put(book, whole.head(size))
            put(book, whole)
            pd.testing.assert_frame_equal(
                bed_readings(book), whole.assign(time=whole["time"].astype("datetime64[ns]"))
            )


class TestAir:
    def test_demo_air_reads_back_as_it_was_read(self, book):
        frame = read_air(data_path("demo/air.csv"))
        put_air(book, frame)
        pd.testing.assert_frame_equal(place_air(book), frame, check_freq=False)

    def test_no_air_says_how_to_add_it(self, book):
        with pytest.raises(NotEnoughData, match="book import FILE --air"):
            place_air(book)

    def test_again_adds_nothing_and_more_days_are_added(self, book):
        assert put_air(book, air("2026-03-01", [1, 2, 3])).new == 3
        assert put_air(book, air("2026-03-01", [1, 2, 3])).same == 3
        more = put_air(book, air("2026-03-02", [2, 3, 4, 5]))
        assert (more.new, more.same) == (2, 2)
        assert place_air(book)["tmin_c"].tolist() == [1, 2, 3, 4, 5]
        assert len(batches(book)) == 3

    def test_a_file_does_not_overwrite(self, book):
        put_air(book, air("2026-03-01", [1, 2, 3]))
        found = put_air(book, air("2026-03-01", [1, 9, 3, 4]))
        assert (found.new, found.same, found.conflicts) == (1, 2, 1)
        change = found.first_changes[0]
        assert (change.day, change.column, change.old, change.new) == ("2026-03-02", "tmin_c", 2, 9)
        assert place_air(book)["tmin_c"].tolist() == [1, 2, 3, 4]

    def test_a_file_completes_what_is_missing(self, book):
        put_air(book, air("2026-03-01", [1, np.nan], [11, 12]))
        assert put_air(book, air("2026-03-01", [1, 2], [11, 12], precip_mm=[0, 5])).completed == 2
        frame = place_air(book)
        assert frame["tmin_c"].tolist() == [1, 2]
        assert frame["precip_mm"].tolist() == [0, 5]
        undo(book)
        assert np.isnan(place_air(book)["tmin_c"].iloc[1])

    def test_a_service_corrects_with_a_note_and_undo_brings_back(self, book):
        put_air(book, air("2026-03-01", [1, 2, 3]))
        found = put_air(book, air("2026-03-02", [7, 3]), source="a service", corrects=True)
        assert (found.corrected, found.same) == (1, 1)
        assert place_air(book)["tmin_c"].tolist() == [1, 7, 3]
        assert notes(book)[0].text.startswith("1 day of air corrected by a service: 2026-03-02")
        undo(book)
        assert place_air(book)["tmin_c"].tolist() == [1, 2, 3]
        assert notes(book) == []

    def test_undoing_a_correction_in_the_middle_leaves_the_last_word(self, book):
        put_air(book, air("2026-03-01", [1]))
        put_air(book, air("2026-03-01", [2]), corrects=True)
        put_air(book, air("2026-03-01", [3]), corrects=True)
        middle = batches(book)[-2].number
        undo(book, middle)
        assert place_air(book)["tmin_c"].tolist() == [3]
        undo(book)
        assert place_air(book)["tmin_c"].tolist() == [1]

    def test_provisional_days_are_marked_and_settled(self, book):
        put_air(book, air("2026-03-01", [1, 2]), provisional=np.array([False, True]))
        assert account_of(place_air(book)).notes == ("Provisional: 1 day.",)
        assert air_span(book, "Eddermarl Terrace")["air_provisional"] == 1
        assert put_air(book, air("2026-03-02", [2])).completed == 1, "the same value, final"
        assert account_of(place_air(book)).notes == ()
        assert air_span(book, "Eddermarl Terrace")["air_provisional"] == 0

    def test_a_file_replaces_a_provisional_day(self, book):
        put_air(book, air("2026-03-01", [1, 2]), provisional=np.array([True, True]))
        assert put_air(book, air("2026-03-01", [5, 2])).corrected == 1
        assert place_air(book)["tmin_c"].tolist() == [5, 2]

    def test_days_without_a_value_are_not_kept_and_come_back_as_holes(self, book):
        put_air(book, air("2026-03-01", [1, np.nan, 3], [11, np.nan, 13]))
        frame = place_air(book)
        assert len(frame) == 3
        assert np.isnan(frame["tmin_c"].iloc[1])
        assert account_of(frame).gap_days == 1

    @settings(max_examples=25)
    @given(
        st.lists(st.tuples(st.integers(0, 6), st.integers(1, 6)), min_size=1, max_size=5),
        st.data(),
    )
    def test_undoing_any_correction_is_as_if_it_had_never_come(
        self, tmp_path_factory, make_book, steps, data
    ):
        """Batches of corrections, each with its own value; one undone, or never made."""
        gone = data.draw(st.integers(0, len(steps) - 1))

        def play(name, skip=None):
            with make_book(tmp_path_factory.mktemp(name) / "garden.db") as book:
                for k, (start, days) in enumerate(steps):
                    if k != skip:
                        first = pd.Timestamp("2026-03-01") + pd.Timedelta(days=start)
                        put_air(book, air(first, [float(k)] * days), corrects=True)
                if skip is None:
                    undo(book, 2 + gone)  # the first batch began the book
                try:
                    return place_air(book)["tmin_c"].fillna(-99.0).tolist()
                except NotEnoughData:
                    return None

        assert play("undone") == play("never", skip=gone)


class TestUndo:
    def test_nothing_to_undo(self, tmp_path):
        with (
            open_book(tmp_path / "new.db", create=True) as empty,
            pytest.raises(InputError, match="nothing to undo"),
        ):
            undo(empty)

    def test_an_import_goes_as_one(self, book, make_log):
        put(book, make_log(5))
        before = bed_readings(book)
        put(book, make_log(30))
        done = undo(book)
        assert done.batch.rows == {"reading": 25}
        pd.testing.assert_frame_equal(bed_readings(book), before)

    def test_a_numbered_one_and_only_once(self, book, make_log):
        put(book, make_log(5))
        put(book, make_log(9))
        number = batches(book)[-2].number
        assert undo(book, number).later is True
        assert len(bed_readings(book)) == 4
        with pytest.raises(InputError, match="undone already"):
            undo(book, number)
        with pytest.raises(InputError, match="no batch 999"):
            undo(book, 999)

    def test_a_bed_that_others_need_stays(self, book, make_log):
        with book.batch("read", "by hand") as batch:
            add_bed(batch, Bed(name="south", place="Eddermarl Terrace"))
            add_readings(batch, "south", make_log(1))
        put(book, make_log(3), bed="south")
        done = undo(book, batches(book)[-2].number)
        assert done.kept == 1
        assert len(bed_readings(book, "south")) == 2

    def test_the_garden_itself_is_not_undone_under_its_entries(self, book, make_log):
        put(book, make_log(3))
        with pytest.raises(InputError, match="later entries belong to"):
            undo(book, 1)
        undo(book)
        undo(book)
        assert beds(book) == []

    def test_undone_rows_can_be_imported_again(self, book, make_log):
        put(book, make_log(5))
        undo(book)
        assert put(book, make_log(5)).new == 5


class TestGround:
    def test_site_is_the_beds(self, book):
        change_bed(book, "north", soil="sand", cover="mulch", depth_m=0.05)
        site = bed_site(book)
        assert (site.latitude_deg, site.longitude_deg) == (-36.2, 146.6)
        assert (site.soil, site.cover, site.depth_m) == ("sand", "mulch", 0.05)

    def test_outline_gives_the_area(self, book):
        bed = change_bed(book, "north", outline=((0, 0), (4, 0), (4, 2.5), (0, 2.5)))
        assert bed.area_m2 == pytest.approx(10.0)
        assert find_bed(book, "north").outline == ((0, 0), (4, 0), (4, 2.5), (0, 2.5))

    @pytest.mark.parametrize("name", ["North", "  north ", "ＮＯＲＴＨ"])
    def test_names_as_a_person_takes_them(self, book, name):
        assert find_bed(book, name).name == "north"
        with pytest.raises(InputError, match="already"), book.batch("bed", "x") as batch:
            add_bed(batch, Bed(name=name, place="Eddermarl Terrace"))

    def test_a_slip_is_met_with_a_guess(self, book):
        with pytest.raises(InputError, match=r"no bed 'noth'.*did you mean 'north'"):
            find_bed(book, "noth")

    def test_with_several_one_must_be_named(self, book):
        with book.batch("bed", "south") as batch:
            add_bed(batch, Bed(name="south", place="Eddermarl Terrace"))
        with pytest.raises(InputError, match=r"2 beds; say which.*'north', 'south'"):
            find_bed(book)

    @pytest.mark.parametrize(
        ("make", "said"),
        [
            (lambda: Place(name="g", latitude_deg=91.0), "latitude_deg is 91"),
            (lambda: Place(name="g", latitude_deg=0.0, elevation_m=99999.0), "elevation"),
            (lambda: Place(name="g", latitude_deg=0.0, obs_hour=24), "observation hour is 24"),
            (lambda: Bed(name="b", place="g", depth_m=10.0), "depth_m is 10"),
            (lambda: Bed(name="", place="g"), "name is ''"),
            (lambda: Bed(name="x" * 81, place="g"), "1 to 80"),
            (lambda: Bed(name="a\x1b[2J", place="g"), r"control character \(U\+001B\)"),
            (lambda: Bed(name="a\udcff", place="g"), "U\\+DCFF"),
            (lambda: Bed(name="b", place="g", area_m2=0.0), "area is 0"),
            (lambda: Bed(name="b", place="g", organic_share=5.0), "organic share is 5"),
            (lambda: Bed(name="b", place="g", soil="jam"), "soil is 'jam'"),
            (lambda: Bed(name="b", place="g", light="neon"), "light is 'neon'"),
            (lambda: Bed(name="b", place="g", outline=((0, 0), (1, 1))), "encloses nothing"),
        ],
    )
    def test_what_cannot_be_is_refused(self, make, said):
        with pytest.raises(InputError, match=said):
            make()

    def test_surface_depth_is_allowed(self):
        assert Bed(name="b", place="g", depth_m=0.0).depth_m == 0.0

    def test_several_places(self, book):
        with book.batch("start", "hill") as batch:
            add_place(batch, Place(name="hill", latitude_deg=50.0))
            add_bed(batch, Bed(name="top", place="hill"))
        assert bed_site(book, "top").latitude_deg == 50.0
        with pytest.raises(InputError, match="2 places"):
            find_place(book)


def test_entries_come_back_in_order_of_their_days(book):
    with book.batch("planted", "by hand") as batch:
        add_planting(batch, Planting("north", date(2026, 3, 2), "planted", "=lettuce", 36))
        add_planting(batch, Planting("north", date(2026, 3, 1), "pulled", "beans"))
        add_note(batch, Note(date(2026, 3, 3), "two\nlines", "north"))
    assert [one.what for one in plantings(book)] == ["beans", "=lettuce"]
    assert notes(book, "north")[0].text == "two\nlines"
    with pytest.raises(InputError, match="empty"), book.batch("note", "by hand") as batch:
        add_note(batch, Note(date(2026, 3, 3), "  "))


def test_span_of_readings(book, make_log):
    assert reading_span(book, "north")["readings"] == 0
    put(book, make_log(3))
    found = reading_span(book, "north")
    assert (found["readings"], found["last_reading"]) == (3, "2026-03-01T09:40")


def test_air_of_another_place_is_refused(book):
    low = np.sin(np.arange(80.0)) * 5.0
    put_air(book, air("2025-01-01", low[:60]))
    with pytest.raises(InputError, match="60 of 60 days differ"):
        put_air(book, air("2025-01-01", low + 5.0), source="other.csv")
    assert len(place_air(book, "Eddermarl Terrace")) == 60
    assert put_air(book, air("2025-01-01", low + 0.5), source="near.csv").new == 20
