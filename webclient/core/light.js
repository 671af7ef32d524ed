/** What a move means in light: the daily light of two places, and whether the step between them is too big. */

import { daysBetween } from './time.js';

/** Light that reaches a tree by what stands over the place, percent of the open sky; home judges by the same table. */
export const COVER_PERCENT = Object.freeze({
  open: 100, ground: 100, low_tunnel: 80, glasshouse: 75, polytunnel: 70, shade: 45, porch: 40, indoors: 10,
});
/** Covers that keep off wind and the harsher part of sunlight. */
const ROOFED = ['glasshouse', 'polytunnel', 'low_tunnel', 'indoors'];
/** Stands for a latitude that no place says. */
export const LATITUDE_ELSE = 45;

// A grower's settings: no publication says for potted trees when a step in light is too big.
const RATIO_WATCH = 1.3;
const RATIO_ACT = 1.8;
const RATIO_WATCH_TENDER = 1.15;
const RATIO_ACT_TENDER = 1.4;
const STEP_MOL_MIN = 5;
const SHADED_PERCENT = 50;
const LATELY_DAYS = 14;

// FAO-56 (Allen et al. 1998), equations 21 and 35; half the possible sunshine stands for a sky that nobody measured.
const SOLAR_CONSTANT = 0.082;
const SHARE_OVERCAST = 0.25;
const SHARE_SUN = 0.5;
const SUNSHINE = 0.5;
/** Sunlight is 45 % usable by leaves, at 4.6 µmol a joule. */
const PAR_MOL_PER_MJ = 2.07;

/** @typedef {{cover?: string, light_percent?: number, latitude?: number}} Place the fields of a place's record */
/**
 * @typedef {{before_mol: number, after_mol: number, ratio: number, level: 'watch'|'act'|null, shaded: boolean,
 *   lately: boolean, leaves_cover: boolean}} Step light in mol a square metre a day
 */

/**
 * Light that reaches a place, percent of the open sky: its own figure, else that of its cover; null when unknown.
 * @param {Place} place
 */
export function lightPercent({ cover, light_percent: own }) {
  return own ?? COVER_PERCENT[cover] ?? null;
}

/**
 * Daily light on a level surface under the open sky, mol m⁻² d⁻¹.
 * @param {number} latitude degrees, north positive
 * @param {number} day of the year, 1 January = 1
 */
export function openSkyMol(latitude, day) {
  const turn = (2 * Math.PI * day) / 365;
  const distance = 1 + 0.033 * Math.cos(turn);
  const declination = 0.409 * Math.sin(turn - 1.39);
  const phi = (latitude * Math.PI) / 180;
  // The poles' tangent is infinite; a hair beside them it is merely large.
  const slope = Math.tan((Math.min(89.999, Math.max(-89.999, latitude)) * Math.PI) / 180) * Math.tan(declination);
  const sunset = Math.acos(Math.min(1, Math.max(-1, -slope)));
  const beam = sunset * Math.sin(phi) * Math.sin(declination) + Math.cos(phi) * Math.cos(declination) * Math.sin(sunset);
  const above_mj = ((24 * 60) / Math.PI) * SOLAR_CONSTANT * distance * Math.max(0, beam);
  return PAR_MOL_PER_MJ * (SHARE_OVERCAST + SHARE_SUN * SUNSHINE) * above_mj;
}

/**
 * Judges a move from one place to another on a day; null where the light of either is not known.
 * @param {Place} before
 * @param {Place} after
 * @param {{date: string, latitude?: number, moved_days_ago?: number|null}} move `latitude` where a place says none;
 *   days since the tree's last move, null where there was none
 * @returns {Step|null}
 */
export function stepBetween(before, after, { date, latitude = LATITUDE_ELSE, moved_days_ago = null }) {
  const percents = [lightPercent(before), lightPercent(after)];
  if (percents.includes(null)) return null;
  const day = daysBetween(`${date.slice(0, 4)}-01-01`, date) + 1;
  const [before_mol, after_mol] = [before, after].map((place, at) => (openSkyMol(place.latitude ?? latitude, day) * percents[at]) / 100);
  return judged({
    before_mol, after_mol, ratio: before_mol > 0 ? after_mol / before_mol : Infinity,
    shaded: percents[0] < SHADED_PERCENT, lately: moved_days_ago !== null && moved_days_ago <= LATELY_DAYS,
    leaves_cover: ROOFED.includes(before.cover) && !ROOFED.includes(after.cover),
  });
}

/** Trees that stood shaded or were moved lately bear less. */
function judged(step) {
  const [watch, act] = step.shaded || step.lately ? [RATIO_WATCH_TENDER, RATIO_ACT_TENDER] : [RATIO_WATCH, RATIO_ACT];
  if (step.after_mol - step.before_mol < STEP_MOL_MIN || step.ratio < watch) return { ...step, level: null };
  return { ...step, level: step.ratio >= act ? 'act' : 'watch' };
}

/** The latitude that stands for places that say none: the middle one of those that do. */
export function middleLatitude(latitudes) {
  const known = latitudes.filter((one) => typeof one === 'number').sort((a, b) => a - b);
  if (known.length === 0) return LATITUDE_ELSE;
  const half = known.length >> 1;
  return known.length % 2 ? known[half] : (known[half - 1] + known[half]) / 2;
}
