"""A crop's figures: the middle one, the user's first, the best founded, and what is refused."""

import pytest

from forecaster.ground.errors import InputError
from forecaster.rules.crops import Crop, CropThreshold, Figure


def crop(*values: float, role: str = "minimum", basis: str = "quoted") -> Crop:
    rows = tuple(
        CropThreshold(role=role, value_c=v, basis=basis, source=f"source {v:g}") for v in values
    )
    return Crop(
        name="x",
        label="X",
        crop_class="warm",
        kind="vegetable",
        usual_use="transplant",
        thresholds=rows,
    )


def test_the_middle_figure_is_used_and_the_safer_of_two():
    assert crop(12.0, 20.0, 15.0).choose("minimum", "spring", "seed").used.value_c == 15.0
    two = crop(12.0, 15.0).choose("minimum", "spring", "seed")
    assert two.used.value_c == 15.0
    assert [row.value_c for row in two.others] == [12.0]
    most = crop(12.0, 15.0, role="upper_limit").choose("upper_limit", "autumn", "seed")
    assert most.used.value_c == 12.0


def test_a_source_is_chosen_and_your_own_comes_first():
    many = crop(12.0, 20.0, 15.0)
    assert many.choose("minimum", "spring", "seed", "SOURCE 12").used.value_c == 12.0
    assert many.choose("minimum", "spring", "seed", "nobody").used.value_c == 15.0
    own = Crop(
        name="x", label="X", crop_class="warm", kind="vegetable", usual_use="transplant",
        thresholds=(CropThreshold(role="minimum", value_c=25.0), *many.thresholds),
    )  # fmt: skip
    assert own.choose("minimum", "spring", "seed").used.value_c == 25.0
    assert many.choose("maximum", "spring", "seed") is None


@pytest.mark.parametrize(
    "make",
    [
        lambda: CropThreshold(role="minimum", value_c=150.0),
        lambda: CropThreshold(role="minimum", value_c=15.0, basis="hearsay"),
        lambda: Figure(3.0, 2.0, "quoted", "s"),
        lambda: Figure(1.0, 2.0, "hearsay", "s"),
    ],
)
def test_figures_that_cannot_be_are_refused(make):
    with pytest.raises(InputError):
        make()


def with_figures(*rows: tuple[float, float, str]) -> Crop:
    figures = {"days_from_seed": tuple(Figure(a, b, basis, f"{a:g}") for a, b, basis in rows)}
    return Crop(
        name="x", label="X", crop_class="cool", kind="vegetable", usual_use="seed", figures=figures
    )


def test_a_figure_is_the_middle_of_the_best_founded():
    crop = with_figures(
        (50.0, 60.0, "published"), (90.0, 90.0, "from memory"), (40.0, 80.0, "quoted"),
        (44.0, 70.0, "published"),
    )  # fmt: skip
    found = crop.figure("days_from_seed")
    assert (found.low, found.high) == (44.0, 70.0)
    assert found.source == "44"
    assert with_figures((9.0, 9.0, "assumption")).figure("days_from_seed").low == 9.0
    assert crop.figure("harvest_weeks") is None


def test_the_hottest_seedbed_lies_on_the_line_between_two_trials():
    """Spinach of Harrington & Minges 1954: 52 % at 68 °F, 28 % at 77 °F; half at 68.75 °F."""
    spinach = Crop(
        name="x", label="X", crop_class="cool", kind="vegetable", usual_use="seed",
        germination=((10.0, 0.91), (20.0, 0.52), (25.0, 0.28), (30.0, 0.32), (35.0, 0.0)),
    )  # fmt: skip
    assert spinach.hottest_seedbed_c(0.5) == pytest.approx(20.0 + 0.02 / 0.24 * 5.0)
    assert spinach.hottest_seedbed_c(0.25) == pytest.approx(30.0 + 0.07 / 0.32 * 5.0)
    assert spinach.hottest_seedbed_c(0.0) is None  # it never falls below nothing
    assert (
        Crop(name="x", label="X", crop_class="cool", kind="v", usual_use="seed").hottest_seedbed_c(
            0.5
        )
        is None
    )
