"""Measures leaves in hundreds of drawn photos: how near, how often refused, how fast and in how much memory."""

from __future__ import annotations

import io
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from labels.card import CARDS
from server.errors import Unmeasurable
from server.photos.measuring import measure
from tests.photos.agreement import concordance
from tests.photos.drawn_leaves import Harm, draw_leaf
from tests.photos.random_scenes import SPOILT, random_card, random_tag, spoilt, tag_of
from tests.photos.scenes import Shot, card_scene, photograph, with_portrait

SCENES = 120
FIRST_SEED = 1000
SPOILT_EACH, SPOILT_SEED = 20, 3000


@pytest.mark.benchmark
@pytest.mark.parametrize(
    ("kind", "median_max", "worst_max", "agreement_min"), [("card", 0.02, 0.05, 0.97), ("tag", 0.05, None, 0.95)]
)
def test_area_and_damage(kind: str, median_max: float, worst_max: float | None, agreement_min: float) -> None:
    rows, refused = [], 0
    for seed in range(FIRST_SEED, FIRST_SEED + SCENES):
        photo, leaves = random_card(seed) if kind == "card" else random_tag(seed)
        try:
            found = measure(photo, list(CARDS.values()), tag_of).leaves
        except Unmeasurable as error:
            refused += 1
            print(f"{kind} {seed} refused: {error.reason}")
            continue
        pairs = zip(sorted(leaves, key=lambda each: -each.outline_cm2), found, strict=False)
        for true, leaf in pairs:
            rows.append((true.outline_cm2, leaf.area_cm2, true.damage_percent, leaf.damage_percent))
    true_cm2, area_cm2, true_percent, percent = np.array(rows).T
    off = np.abs(area_cm2 / true_cm2 - 1)
    agreement, miss = concordance(true_percent, percent), np.abs(percent - true_percent).mean()
    print(
        f"{kind}: {len(rows)} leaves, area off by {np.median(off):.2%} (median), {np.quantile(off, 0.95):.2%} (95 of "
        f"100), {off.max():.2%} (worst); damage: agreement {agreement:.3f}, off by {miss:.2f} points; {refused} refused"
    )
    assert refused <= 0.05 * SCENES
    assert np.median(off) <= median_max
    assert agreement >= agreement_min
    assert worst_max is None or off.max() <= worst_max


@pytest.mark.benchmark
@pytest.mark.parametrize("kind", ["card", "tag"])
def test_what_nobody_could_measure_is_refused(kind: str) -> None:
    taken = []
    for seed in range(SPOILT_SEED, SPOILT_SEED + SPOILT_EACH):
        for how in SPOILT:
            photo = spoilt(kind, how, seed)
            try:
                measure(photo, list(CARDS.values()), tag_of)
            except Unmeasurable:
                continue
            taken.append((how, seed))
    print(f"{kind}: of {len(SPOILT) * SPOILT_EACH} spoilt photos {len(taken)} were measured: {taken}")
    assert len(taken) <= 0.05 * len(SPOILT) * SPOILT_EACH


@pytest.mark.benchmark
def test_speed_and_memory_of_12_megapixels(tmp_path: Path) -> None:
    rng = np.random.default_rng(2)
    leaf = draw_leaf("lobed", 160, (60, 115, 45), Harm(spots=0.05, edge=0.05, holes=0.02, bites=1), rng)
    shot = with_portrait(Shot(width_px=4000, height_px=3000, tilt_degrees=15, blur_px=1.3, grain=4.0, quality=92))
    photo = photograph(card_scene([leaf], [(105, 145)], rng), shot, rng)
    (tmp_path / "photo.jpg").write_bytes(photo)
    decode_ms, measure_ms = [], []
    for _ in range(7):
        start = time.process_time()
        Image.open(io.BytesIO(photo)).load()
        middle = time.process_time()
        measure(photo, list(CARDS.values()), tag_of)
        decode_ms.append(1e3 * (middle - start))
        measure_ms.append(1e3 * (time.process_time() - middle))
    script = (
        "import sys; from pathlib import Path; from labels.card import CARDS;"
        " from server.photos.measuring import measure;"
        " measure(Path(sys.argv[1]).read_bytes(), list(CARDS.values()), lambda text: None);"
        " print(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0])"
    )
    command = [sys.executable, "-c", script, str(tmp_path / "photo.jpg")]
    peak_kb = int(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
    times = min(measure_ms) / min(decode_ms)
    print(f"{len(photo) / 1e6:.1f} MB: decoded in {min(decode_ms):.0f} ms, measured in {min(measure_ms):.0f} ms "
          f"({times:.1f} times), peak {peak_kb / 1e3:.0f} MB")  # fmt: skip
    assert times <= 3
    assert peak_kb < 700_000
