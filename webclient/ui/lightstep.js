// The warning before a move that is too big a step in light: the reason, a gentler place, and the offer to go on.
import { html, nothing } from 'lit-html';
import { lightPercent, middleLatitude, stepBetween } from '../core/light.js';
import { dateText, daysBetween } from '../core/time.js';
import { placeOf } from './cards.js';
import { level } from './parts.js';
import { words } from './text.js';

const GENTLER_MAX = 3;

/**
 * The trees for which a move to a place would be too big a step, the hardest step first.
 * @param {Array<object>} trees
 * @param {import('./cards.js').Cards} cards
 * @param {string} to id of the place
 * @param {number} at_ms when they are moved
 * @returns {Array<{tree: object, step: import('../core/light.js').Step}>}
 */
export function bigSteps(trees, cards, to, at_ms) {
  const found = trees.map((tree) => ({ tree, step: stepOf(tree, cards, to, at_ms) })).filter(({ step }) => step?.level);
  return found.sort((a, b) => a.step.level.localeCompare(b.step.level) || b.step.ratio - a.step.ratio);
}

function stepOf(tree, cards, to, at_ms) {
  const before = placeOf(cards, tree);
  const after = cards.places.get(to);
  if (!before || !after || before.id === after.id) return null;
  const date = dateText(at_ms);
  const moved_ms = cards.latest.get(tree.id)?.moved_at_ms;
  const ago = moved_ms ? daysBetween(dateText(moved_ms), date) : null;
  const latitude = middleLatitude(Array.from(cards.places.values(), (place) => place.fields.latitude));
  // A move that is entered late, from before the last one, says nothing about how lately the tree was moved then.
  return stepBetween(before.fields, after.fields, { date, latitude, moved_days_ago: ago !== null && ago >= 0 ? ago : null });
}

/** Places on the way, brightest first: lighter than any of the trees stands now, and no big step for any of them. */
export function gentlerPlaces(trees, cards, to, at_ms) {
  const now = Math.max(...trees.map((tree) => lightPercent(placeOf(cards, tree).fields)));
  const light = (place) => lightPercent(place.fields) ?? 0;
  return [...cards.places.values()]
    .filter((place) => place.id !== to && place.fields.cover !== 'ground' && light(place) > now)
    .filter((place) => bigSteps(trees, cards, place.id, at_ms).length === 0)
    .sort((a, b) => light(b) - light(a)).slice(0, GENTLER_MAX);
}

/**
 * @param {ReturnType<typeof bigSteps>} steps
 * @param {{count: number, gentler: Array<object>, pick: (place: string) => void, plan: string}} move `count` of trees that
 *   move; `plan`: where the way is planned day by day
 */
export function stepWarning(steps, { count, gentler, pick, plan }) {
  if (steps.length === 0) return nothing;
  const [{ step }] = steps;
  return html`<section class="finding ${step.level}" id="big-step" role="alert" aria-label=${words.light.title}>
    <h2>${level(step.level)}<br>${words.light.title} ${count > 1 ? html`<span class="since">${words.light.some(steps.length, count)}</span>` : nothing}</h2>
    <p>${reasons(step).join(' ')}</p><p><strong>${words.finding.advice}</strong> ${words.light.advice[step.level]}</p>
    <div class="keys">${gentler.map((place) => html`<button type="button" class="key" @click=${() => pick(place.id)}>
      ${words.light.first(place.fields.place)}</button>`)}<a class="key" href=${plan}>${words.out.plan}</a></div></section>`;
}

function reasons({ ratio, before_mol: before, after_mol: after, shaded, lately, leaves_cover: leavesCover }) {
  return [words.light.gain(ratio, Math.round(before), Math.round(after)), shaded && words.light.shaded, lately && words.light.lately,
    leavesCover && words.light.noWind].filter(Boolean);
}
