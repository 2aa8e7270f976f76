"""What the user says of columns stands above their headings."""

import pytest

from forecaster.ground.errors import FileError, InputError
from forecaster.ingest import account_of, read_air, read_readings

LOG = "time,A,B,wind avg\n" + "\n".join(
    f"2025-03-{d:02d} {h:02d}:00,{50 + d + h / 10:.1f},{60 + d},{h / 3:.2f}"
    for d in range(1, 9)
    for h in range(24)
)


def write(folder, text):
    path = folder / "file.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_depth_in_centimetres_or_inches(tmp_path):
    path = write(tmp_path, LOG)
    log = read_readings(path, columns={"soil10": "a", "soil4in": "3"}, units="F")
    assert sorted(set(log["depth_m"])) == [0.1, 0.1016]
    assert log["temp_c"].iloc[0] == pytest.approx((51 - 32) / 1.8)
    taken = {c.name: c.taken or c.why for c in account_of(log).columns}
    assert taken["A"] == "soil temperature at 10 cm, °F"
    assert taken["wind avg"] == "wind"
    assert set(read_readings(path, columns={"soil": "A"}, units="F")["depth_m"].isna()) == {True}


def test_told_columns_of_the_air(tmp_path):
    air = read_air(write(tmp_path, LOG), columns={"air": "A"}, units="F")
    assert len(air) == 8
    assert air["tmax_c"].iloc[0] == pytest.approx((53.3 - 32) / 1.8)
    assert air["tmin_c"].iloc[0] == pytest.approx((51 - 32) / 1.8)


@pytest.mark.parametrize("key", ["snow", "soil 9m", "soilcm", "tmax2", ""])
def test_what_cannot_be_told(tmp_path, key):
    with pytest.raises(InputError):
        read_readings(write(tmp_path, LOG), columns={key: "A"})


def test_a_column_that_is_not_there(tmp_path):
    with pytest.raises(FileError, match=r"no column 'C' for soil10; expected one of 'time', 'A'"):
        read_readings(write(tmp_path, LOG), columns={"soil10": "C"})
    bare = write(tmp_path, "2025-03-14;5;6\n2025-03-15;6;7\n2025-03-16;5;9\n")
    with pytest.raises(FileError, match="a number from 1 to 3"):
        read_readings(bare, columns={"soil10": "4"})


def test_without_a_heading_the_message_names_the_option(tmp_path):
    bare = write(tmp_path, "2025-03-14;5;6\n2025-03-15;6;7\n2025-03-16;5;9\n")
    with pytest.raises(FileError, match="--column soil10=4"):
        read_readings(bare)
    log = read_readings(bare, columns={"soil10": "3"}, units="C")
    assert log["temp_c"].tolist() == [6.0, 7.0, 9.0]


def test_a_probe_that_is_not_there(tmp_path):
    rows = "\n".join(f"2025-03-{d:02d},{bed},5{d % 10}" for d in range(1, 9) for bed in "AB")
    path = write(tmp_path, "date,bed,soil_f\n" + rows)
    assert set(read_readings(path)["probe"]) == {"A", "B"}
    with pytest.raises(FileError, match="no probe 'C'; expected one of: A, B"):
        read_readings(path, probe="C")
    single = write(tmp_path, "date,soil_f\n2025-03-14,52\n")
    with pytest.raises(FileError, match="leave it out"):
        read_readings(single, probe="A")
