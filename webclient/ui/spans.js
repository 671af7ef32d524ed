// Intervals one under the other on one axis: a dot for what is most likely, a band for what can be said.
import { html, svg, nothing } from 'lit-html';
import { formatNumber } from '../core/units.js';

/** Room left and right of the axis, in percent of the width. */
const INSET = 5;
const TICKS_MAX = 5;
const STEPS = [1, 2, 5, 10];
/** Finer differences than this matter to nobody. */
const STEP_MIN = 0.1;
const DECIMALS = 2;

/** @typedef {{from: number, to: number, x: (value: number) => number}} Scale `x` in percent of the width */

/** @returns {Scale} */
export function scaleOf(from, to) {
  const width = to > from ? to - from : 1;
  return { from, to, x: (value) => Math.round((INSET + ((value - from) / width) * (100 - 2 * INSET)) * 100) / 100 };
}

/**
 * A scale over differences: nought is always on it, and it ends at round values.
 * @param {Array<{low: number, high: number}>} spans
 * @returns {Scale & {ticks: number[]}}
 */
export function differenceScale(spans) {
  const low = Math.min(0, ...spans.map((span) => span.low));
  const high = Math.max(0, ...spans.map((span) => span.high));
  let step = roundStep(Math.max((high - low) / (TICKS_MAX - 1), STEP_MIN));
  const ends = () => [Math.floor(low / step), Math.max(Math.ceil(high / step), low < 0 ? 0 : 1)];
  while (ends()[1] - ends()[0] >= TICKS_MAX) step = roundStep(step * 1.5);
  const [first, last] = ends();
  const ticks = Array.from({ length: last - first + 1 }, (_, at) => Number(((first + at) * step).toFixed(DECIMALS)));
  return { ...scaleOf(ticks[0], ticks.at(-1)), ticks };
}

/** The next of 1, 2, 5, 10, 20, … */
function roundStep(least) {
  const power = 10 ** Math.floor(Math.log10(least));
  return power * STEPS.find((step) => step * power >= least * (1 - 1e-9));
}

/** `−10`, `0`, `+10` */
export function signedText(value) {
  return value > 0 ? `+${formatNumber(value, DECIMALS)}` : formatNumber(value, DECIMALS);
}

/**
 * The axis above the intervals.
 * @param {Scale} scale
 * @param {Array<{at: number, text: string}>} ticks
 */
export function spanAxis(scale, ticks) {
  return svg`<svg class="spans-axis" width="100%" height="28" aria-hidden="true">
    <line class="axis" x1="${INSET}%" x2="${100 - INSET}%" y1="26" y2="26" />
    ${ticks.map(({ at, text }) => svg`<line class="axis" x1="${scale.x(at)}%" x2="${scale.x(at)}%" y1="21" y2="28" />
      <text x="${scale.x(at)}%" y="16" text-anchor="middle">${text}</text>`)}</svg>`;
}

/**
 * One interval; what lies beyond the axis is cut, with an arrow there.
 * @param {{low: number, high: number, value: number}} span
 * @param {Scale} scale
 * @param {{zero: number, sure: boolean}} look `zero`: where the line stands from which things are looked at
 */
export function spanStrip({ low, high, value }, scale, { zero, sure }) {
  const [from, to] = [Math.max(low, scale.from), Math.min(high, scale.to)];
  const inside = value >= scale.from && value <= scale.to;
  return svg`<svg class="spans-strip ${sure ? 'sure' : ''}" width="100%" height="30" aria-hidden="true">
    ${from <= to ? svg`<rect class="band" x="${scale.x(from)}%" width="${Math.max(0.8, scale.x(to) - scale.x(from))}%" y="6" height="18" />` : nothing}
    <line class="zero" x1="${scale.x(zero)}%" x2="${scale.x(zero)}%" y1="0" y2="30" />
    ${low < scale.from ? svg`<svg x="0" y="0" overflow="visible"><path class="dot" d="M2 15l9 -7v14z" /></svg>` : nothing}
    ${high > scale.to ? svg`<svg x="100%" y="0" overflow="visible"><path class="dot" d="M-2 15l-9 -7v14z" /></svg>` : nothing}
    ${inside ? svg`<circle class="dot" cx="${scale.x(value)}%" cy="15" r="6.5" />` : nothing}</svg>`;
}

/** The words at both ends of an axis, and its unit between them. */
export function spanEnds(left, unit, right) {
  return html`<p class="spans-ends small" aria-hidden="true"><span>← ${left}</span><span class="soft">${unit}</span><span>${right} →</span></p>`;
}
