"""The formulas of leaf colour and of agreement, held against published and recomputed values."""

import numpy as np
import pytest

from server.photos.damage import green_index
from server.photos.tissue import excess_green
from tests.photos.agreement import concordance

# Bland & Altman 1986, Lancet 1:307: peak flow of 17 people by two meters (values from memory).
WRIGHT = (494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427)
MINI = (512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451)


def test_concordance_of_the_peak_flow_data() -> None:
    # Lin's coefficient of these data, recomputed with the divisor n: 0.94274; Pearson's is 0.94328.
    assert concordance(WRIGHT, MINI) == pytest.approx(0.94274, abs=5e-6)
    assert np.corrcoef(WRIGHT, MINI)[0, 1] == pytest.approx(0.94328, abs=5e-6)


def test_excess_green_and_dark_green_of_a_worked_colour() -> None:
    # ExG = 2g - r - b (Woebbecke et al. 1995) and DGCI (Karcher & Richardson 2003) of RGB 60, 120, 40, recomputed by
    # hand: 0.63636 and 0.53758.
    rgb = np.array([60, 120, 40]) / 255
    assert excess_green(rgb) == pytest.approx(0.63636, abs=1e-5)
    assert green_index(rgb) == pytest.approx(0.53758, abs=1e-5)


@pytest.mark.parametrize(
    ("rgb", "expected"),
    [
        # By the formula [(H - 60) / 60 + (1 - S) + (1 - B)] / 3: pure green has H 120, S 1, B 1; black and grey H 0.
        ((0, 1, 0), 1 / 3),
        ((0, 0.5, 0), 0.5),
        ((0, 0, 1), 1.0),
        ((1, 0, 0), -1 / 3),
        ((1, 0, 1), 4 / 3),
    ],
)
def test_dark_green_of_plain_colours(rgb: tuple[float, ...], expected: float) -> None:
    assert green_index(np.array(rgb, float)) == pytest.approx(expected)


def test_excess_green_does_not_change_with_light() -> None:
    rgb = np.random.default_rng(1).uniform(0.05, 1, (50, 3))
    assert np.allclose(excess_green(rgb), excess_green(rgb * 0.37), atol=1e-5)
