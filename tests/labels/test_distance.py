"""How far away a tag is read, by a modelled phone camera and an independent decoder."""

import pytest

from labels.codes import make_code
from tests.labels.camera import Camera, reach_mm, reads, reads_well

BARE = make_code("7K3Q9F")
ADDRESS = make_code("HTTPS://TREES.EXAMPLE.ORG/T/7K3Q9F")
MAIN = Camera("12 MP photo, 26 mm lens", 4032, 26)
VIDEO = Camera("1080p video, 26 mm lens", 1920, 26)
LONG = Camera("12 MP photo, 77 mm lens", 4032, 77)


def test_the_camera_has_one_pixel_a_mm_at_three_metres():
    # 12 MP, 4032 pixels across, 26 mm equivalent: 26 / 43.27 x 5040 = 3029 pixels focal length.
    assert MAIN.px_per_mm(3000) == pytest.approx(1.0096, abs=0.0005)


def test_a_pixel_a_module_is_too_little_and_three_are_enough():
    """The model can fail, and does where sampling says that it must: below two pixels a module."""
    module_mm = 20 / BARE.modules
    assert reads(BARE, 20, 1.0 / module_mm) == 0
    assert reads(BARE, 20, 3.0 / module_mm) == 20


def test_a_tag_is_read_at_arms_length_by_the_scanners_video():
    assert reads(BARE, 20, VIDEO.px_per_mm(600)) == 20
    assert reads(ADDRESS, 20, VIDEO.px_per_mm(400)) == 20


@pytest.mark.benchmark
def test_reach_of_codes_and_cameras():
    """Prints the farthest distance; the bounds are 0.1 to 0.2 m under what was measured."""
    least_mm = {
        (MAIN, BARE): 1400,
        (MAIN, ADDRESS): 1000,
        (VIDEO, BARE): 600,
        (VIDEO, ADDRESS): 400,
        (LONG, BARE): 3000,
        (LONG, ADDRESS): 3000,
    }
    for (camera, code), bound_mm in least_mm.items():
        far_mm = reach_mm(code, 20, camera)
        print(f"{camera.name}: version {code.version}-{code.level}, 20 mm, read up to {far_mm / 1000:.1f} m")
        assert far_mm >= bound_mm


@pytest.mark.benchmark
def test_width_of_a_code_that_the_main_camera_reads_at_three_metres():
    for code, bound_mm in ((BARE, 44), (ADDRESS, 60)):
        width_mm = next(mm for mm in range(20, 81, 2) if reads_well(code, mm, MAIN.px_per_mm(3000)))
        print(f"{MAIN.name}: version {code.version}-{code.level} is read at 3 m from {width_mm} mm width")
        assert width_mm <= bound_mm
