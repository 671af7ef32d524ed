// Plans of bringing out that were begun: of each tree the day, and the place it leads to; they stay on this phone.
import { addDays, dateText } from '../core/time.js';

const KEY = 'begun-out';
/** The longest plan takes two months; an older one says nothing any more. */
const BEGUN_DAYS_MAX = 90;
/** As many trees as home plans for at once. */
const TREES_MAX = 300;

/**
 * @typedef {Record<string, {on: string, to: string|null}>} Begun by the tree's id
 * @typedef {{on: string|null, to: string|null, trees: string[], shown: string[]}} Lot trees that begin together, and those
 *   of them that a screen shows; `on` null: not begun yet
 */

/** @returns {Promise<Begun>} */
export async function begunPlans(ctx) {
  return (await ctx.drafts.get(KEY))?.value ?? {};
}

/**
 * Trees that have begun on the same day for the same place, each lot together, whoever of them is shown, so that home is
 * asked the same from every screen; those that have not begun come first.
 * @param {string[]} shown
 * @param {Begun} begun
 * @param {string|null} to the place that trees which have not begun are to reach; null: the brightest outdoors
 * @returns {Lot[]}
 */
export function lotsOf(shown, begun, to) {
  const lots = new Map();
  const lotOf = (plan) => {
    const key = `${plan.on}|${plan.to}`;
    if (!lots.has(key)) lots.set(key, { on: plan.on, to: plan.to, trees: [], shown: [] });
    return lots.get(key);
  };
  for (const tree of shown) lotOf(begun[tree] ?? { on: null, to }).shown.push(tree);
  for (const [tree, plan] of Object.entries(begun)) lots.get(`${plan.on}|${plan.to}`)?.trees.push(tree);
  for (const lot of lots.values()) if (lot.on === null || lot.trees.length > TREES_MAX) lot.trees = lot.shown;
  return [...lots.values()].sort((a, b) => (a.on ?? '').localeCompare(b.on ?? ''));
}

/**
 * Where to ask home for a lot's plan; of more trees than it plans for at once, the whole place's.
 * @param {{on: string|null, to: string|null, trees: string[]}} lot
 * @param {string|null} place
 */
export function planPath({ on, to, trees }, place = null) {
  const whom = place && trees.length > TREES_MAX ? { place } : { trees: [...trees].sort().join(',') };
  return `/reports/hardening?${new URLSearchParams({ ...whom, ...(to ? { to } : {}), ...(on ? { on } : {}) })}`;
}

/**
 * Keeps that trees begin on the day of their plan, with the plan itself, in case home cannot be reached again.
 * @param {object} ctx
 * @param {Lot} lot that has not begun
 * @param {{on: string, items: Array<object>}} document home's plan of it, only of the trees that begin
 */
export async function begin(ctx, lot, document) {
  const plan = { on: document.on, to: lot.to };
  const trees = treesOf(document.items);
  const begun = await begunPlans(ctx);
  const [before] = lotsOf(Object.keys(begun), begun, null).filter((one) => one.on === plan.on && one.to === plan.to);
  const known = before ? (await ctx.kept.get(planPath(before)))?.document.items ?? [] : [];
  const oldest = addDays(dateText(), -BEGUN_DAYS_MAX);
  const still = Object.entries(begun).filter(([, one]) => one.on >= oldest);
  await ctx.drafts.put(KEY, { ...Object.fromEntries(still), ...Object.fromEntries(trees.map((tree) => [tree, plan])) });
  const all = [...(before?.trees ?? []), ...trees];
  await ctx.kept.put(planPath({ ...plan, trees: all }), { ...document, items: [...known, ...document.items] });
}

/**
 * Forgets that a lot's shown trees have begun.
 * @param {object} ctx
 * @param {Lot} lot
 * @param {object|null} document home's plan of the whole lot, kept for those that go on
 */
export async function giveUp(ctx, lot, document) {
  const left = Object.entries(await begunPlans(ctx)).filter(([tree]) => !lot.shown.includes(tree));
  await (left.length ? ctx.drafts.put(KEY, Object.fromEntries(left)) : ctx.drafts.drop(KEY));
  const trees = lot.trees.filter((tree) => !lot.shown.includes(tree));
  if (trees.length && document) await ctx.kept.put(planPath({ ...lot, trees }), { ...document, items: itemsOf(document, trees) });
}

/** The lines of a plan that hold some trees, with those alone. */
export function itemsOf(document, trees) {
  const wanted = new Set(trees);
  return document.items.map((item) => ({ ...item, trees: item.trees.filter((one) => wanted.has(one.tree)) })).filter((item) => item.trees.length);
}

export function treesOf(items) {
  return items.flatMap((item) => item.trees.map((one) => one.tree));
}
