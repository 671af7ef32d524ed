// Plans of bringing out that were begun: of each tree the day, and the place it leads to; they stay on this phone.
import { addDays, dateText } from '../core/time.js';

const KEY = 'begun-out';
/** The longest plan takes two months; an older one says nothing any more. */
const BEGUN_DAYS_MAX = 90;
/** As many trees as home plans for at once. */
const TREES_MAX = 300;

/** @typedef {{on: string|null, to: string|null, trees: string[]}} Start trees that begin together; `on` null: not yet */

/** @returns {Promise<Record<string, {on: string, to: string|null}>>} by the tree's id */
export async function begunPlans(ctx) {
  return (await ctx.drafts.get(KEY))?.value ?? {};
}

/**
 * Keeps that trees began on a day.
 * @param {Start} start
 */
export async function begin(ctx, { on, to, trees }) {
  const oldest = addDays(dateText(), -BEGUN_DAYS_MAX);
  const kept = Object.entries(await begunPlans(ctx)).filter(([, plan]) => plan.on >= oldest);
  await ctx.drafts.put(KEY, { ...Object.fromEntries(kept), ...Object.fromEntries(trees.map((tree) => [tree, { on, to }])) });
}

export async function giveUp(ctx, trees) {
  const left = Object.entries(await begunPlans(ctx)).filter(([tree]) => !trees.includes(tree));
  await (left.length ? ctx.drafts.put(KEY, Object.fromEntries(left)) : ctx.drafts.drop(KEY));
}

/**
 * Trees that have begun on the same day for the same place, each lot together; those that have not come first.
 * @param {string[]} trees
 * @param {Record<string, {on: string, to: string|null}>} begun
 * @param {string|null} to the place that trees which have not begun are to reach; null: the brightest outdoors
 * @returns {Start[]}
 */
export function startsOf(trees, begun, to) {
  const starts = new Map();
  for (const tree of trees) {
    const start = begun[tree] ?? { on: null, to };
    const key = `${start.on}|${start.to}`;
    if (!starts.has(key)) starts.set(key, { ...start, trees: [] });
    starts.get(key).trees.push(tree);
  }
  return [...starts.values()].sort((a, b) => (a.on ?? '').localeCompare(b.on ?? ''));
}

/**
 * Where to ask home for the plan; of more trees than it plans for at once, the whole place's.
 * @param {Start} start
 * @param {string|null} place
 */
export function planPath({ on, to, trees }, place = null) {
  const whom = place && trees.length > TREES_MAX ? { place } : { trees: [...trees].sort().join(',') };
  return `/reports/hardening?${new URLSearchParams({ ...whom, ...(to ? { to } : {}), ...(on ? { on } : {}) })}`;
}
