"""Daily light in a place from latitude, date and cover, and what a move to another place means in light.

Radiation after FAO-56 (Allen et al. 1998, see sun.py); 45 % of sunlight's energy is usable by leaves, at 4.6 µmol a
joule. Light in mol m⁻² d⁻¹ or in percent of the open sky. Valid for daylight; when a step is too big is a grower's
setting, as no publication gives it for potted trees.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from server.analysis import sun
from server.analysis.species import GROWER, Figure
from server.wording.said import Said, say, say_count

Floats = NDArray[np.float64]

PAR_MOL_PER_MJ = 2.07
"""Sunlight is 45 % usable by leaves, at 4.6 µmol a joule."""
SUNSHINE_SHARE_UNKNOWN = 0.5
"""Share of the possible sunshine where no temperatures tell of clouds; a middling sky, a grower's setting."""
OPEN_PERCENT = 100.0

# Light that reaches a tree, percent of the open sky, by what stands over the place. Transmission of the materials is
# from memory (glass 88-90, one sheet of polyethylene 87, two 76-78, twin-wall polycarbonate 79-83 %); frames, dirt and
# neighbours take their part of it, for which no one figure is published.
_FRAME = f"{GROWER}, from the material's transmission less frame and dirt"
COVERS: Mapping[str, Figure] = {
    "open": Figure(100.0, "%", "by definition"),
    "ground": Figure(100.0, "%", "by definition"),
    "low_tunnel": Figure(80.0, "%", _FRAME, 70.0, 87.0),
    "glasshouse": Figure(75.0, "%", _FRAME, 60.0, 90.0),
    "polytunnel": Figure(70.0, "%", _FRAME, 55.0, 87.0),
    "shade": Figure(45.0, "%", GROWER, 20.0, 70.0),
    "porch": Figure(40.0, "%", GROWER, 15.0, 60.0),
    "indoors": Figure(10.0, "%", GROWER, 2.0, 25.0),
}
INDOOR_COVERS = frozenset({"glasshouse", "polytunnel", "low_tunnel", "indoors"})
"""Covers that keep off wind and the harsher part of sunlight: whoever comes from under them knows neither."""

# When a step in light is too big. No publication gives it for potted trees: a grower's setting. Shade-grown trees and
# those moved shortly before bear less (common practice, no published source).
RATIO_WATCH, RATIO_ACT = 1.3, 1.8
RATIO_WATCH_TENDER, RATIO_ACT_TENDER = 1.15, 1.4
STEP_MOL_MIN = 5.0
"""A smaller rise, mol m⁻² d⁻¹, harms no tree, whatever its ratio: winter's moves."""
SHADED_PERCENT = 50.0
LATELY_DAYS = 14


@dataclass(frozen=True)
class DailyLight:
    """Daily light integral on a level surface, mol m⁻² d⁻¹: expected, and from an overcast to a clear day."""

    mol: float
    overcast_mol: float
    clear_mol: float


@dataclass(frozen=True)
class LightStep:
    """What a move means in light: `ratio` after to before, `change_mol` in mol m⁻² d⁻¹, and why it is too big."""

    before_mol: float
    after_mol: float
    level: str | None
    why: tuple[str, ...]

    @property
    def ratio(self) -> float:
        """Light after the move to that before; infinite out of full darkness."""
        return self.after_mol / self.before_mol if self.before_mol > 0.0 else float("inf")

    @property
    def change_mol(self) -> float:
        """Light gained, mol m⁻² d⁻¹."""
        return self.after_mol - self.before_mol


def light_percent(cover: str | None, own_percent: float | None = None) -> float | None:
    """Light that reaches a place, percent of the open sky: its own figure, else that of its cover; None if unknown."""
    if own_percent is not None:
        return own_percent
    figure = COVERS.get(cover or "")
    return None if figure is None else figure.value


def photosynthetic_light(radiation: ArrayLike) -> Floats:
    """Daily light integral: light that leaves can use, mol m⁻² d⁻¹, of solar radiation in MJ m⁻² d⁻¹.

    Valid for sunlight under any sky, not for lamps.
    """
    result: Floats = PAR_MOL_PER_MJ * np.asarray(radiation, dtype=float)
    return result


def open_sky_light(
    latitude: ArrayLike,
    day: ArrayLike,
    t_min_c: ArrayLike = np.nan,
    t_max_c: ArrayLike = np.nan,
    coefficient: float = sun.HARGREAVES_INLAND,
) -> Floats:
    """Daily light under the open sky, mol m⁻² d⁻¹, on days of the year; arguments broadcast.

    From the swing of the open air's temperature (FAO-56, equation 50), good to about a fifth over a week; where that
    is NaN, of a sky with half the possible sunshine (equation 35). Raises ValueError for latitudes beyond ±90.
    """
    ra = sun.extraterrestrial_radiation(day, latitude)
    middling = sun.radiation_from_sunshine(ra, SUNSHINE_SHARE_UNKNOWN, 1.0)
    measured = sun.radiation_from_temperatures(ra, t_min_c, t_max_c, coefficient)
    return photosynthetic_light(np.where(np.isfinite(measured), measured, middling))


def place_light(
    latitude: float, day: int, percent: float, t_min_c: float = np.nan, t_max_c: float = np.nan
) -> DailyLight:
    """Daily light in a place that `percent` of the open sky's light reaches, on a day of the year.

    Overcast and clear days by FAO-56, equations 35 and 37. Temperatures are the open air's, °C, where known. Raises
    ValueError for a latitude beyond ±90 or a percentage outside 0 to 100.
    """
    if not 0.0 <= percent <= OPEN_PERCENT:
        raise ValueError(f"light lies between 0 and 100 percent of the open sky, not {percent:g}")
    share = percent / 100.0
    ra = sun.extraterrestrial_radiation(day, latitude)
    overcast, clear = (
        photosynthetic_light(sun.radiation_from_sunshine(ra, 0.0, 1.0)),
        photosynthetic_light(sun.clear_sky_radiation(ra)),
    )
    mol = open_sky_light(latitude, day, t_min_c, t_max_c)
    return DailyLight(float(mol) * share, float(overcast) * share, float(clear) * share)


def light_step(
    before: DailyLight,
    after: DailyLight,
    *,
    shaded: bool = False,
    moved_days_ago: float | None = None,
    leaves_cover: bool = False,
) -> LightStep:
    """Judge a move by its step in daily light; level None, watch or act (too big a step: harden off first).

    `shaded`: the tree stood shaded (under half the open light, or by its neighbours); `moved_days_ago`: days since its
    last move, None where there was none; `leaves_cover`: it comes out from under cover, to wind as well.
    """
    step = LightStep(before.mol, after.mol, None, ())
    lately = moved_days_ago is not None and moved_days_ago <= LATELY_DAYS
    tender = shaded or lately
    watch, act = (RATIO_WATCH_TENDER, RATIO_ACT_TENDER) if tender else (RATIO_WATCH, RATIO_ACT)
    if step.change_mol < STEP_MOL_MIN or step.ratio < watch:
        return step
    light = {"gain": gain_words(step.ratio), "after": after.mol, "before": before.mol}
    why = [say("It would get {gain}: {after:.0f} instead of {before:.0f} mol/m² a day.", **light)]
    if shaded:
        why.append(say("It stood shaded, and shade leaves burn first."))
    if lately and moved_days_ago is not None:
        ago = days_ago(round(moved_days_ago))
        why.append(say("It was moved {ago}; two moves in quick succession are worse than one.", ago=ago))
    if leaves_cover:
        why.append(say("It has known no wind since it went under cover."))
    return LightStep(step.before_mol, step.after_mol, "act" if step.ratio >= act else "watch", tuple(why))


def gain_words(ratio: float) -> Said:
    """Say a rise in light: “2.5 times the light”, “33 percent more light”."""
    if ratio >= 10.0:
        return say("more than ten times the light")
    if ratio >= 1.95:
        return say("{times:g} times the light", times=round(float(ratio), 1))
    return say("{percent:.0f} percent more light", percent=100.0 * (ratio - 1.0))


def days_ago(days: int) -> Said:
    """Say how long ago a day was: today, yesterday, 5 days ago."""
    if days == 0:
        return say("today")
    return say_count("yesterday", "{count} days ago", days)
