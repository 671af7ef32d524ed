// Bringing out: day-by-day plans for a tree, for the pots on the barrow, or for all that stand in a place.
import { html, nothing } from 'lit-html';
import { askHome } from '../asked.js';
import { begin, begunPlans, giveUp, planPath, startsOf } from '../begun.js';
import { options, placeOf, varietyName } from '../cards.js';
import { ageWords, dayOf } from '../format.js';
import { icon } from '../icons.js';
import { planPart } from '../outplan.js';
import { caution, twicePressed } from '../parts.js';
import { plate } from '../plate.js';
import { words } from '../text.js';

const OUTDOORS = ['open', 'shade', 'porch'];

async function open(ctx, whence, id) {
  const state = { id, whence, cards: await ctx.cards.get(), ids: [], to: null, starts: [], asked: null };
  state.ids = await treesOf(state, ctx);
  await ask(state, ctx);
  return state;
}

async function treesOf({ id, whence, cards }, ctx) {
  if (whence === 'tree') return cards.trees.has(id) ? [id] : [];
  if (whence === 'barrow') return ((await ctx.drafts.get('barrow'))?.value ?? []).filter((one) => cards.trees.has(one));
  return [...cards.trees.values()].filter((tree) => placeOf(cards, tree)?.id === id && tree.fields.standing !== 'retired').map((tree) => tree.id);
}

/** Asks home for each lot of trees that begin together. */
async function ask(state, ctx) {
  state.starts = startsOf(state.ids, await begunPlans(ctx), state.to).map((start) => ({ ...start, report: null }));
  for (const start of state.starts) {
    askHome(ctx, planPath(start, placeAsked(state)), (report) => { start.report = report; });
  }
}

function placeAsked({ whence, id }) {
  return whence === 'place' ? id : null;
}

async function changed(state, ctx) {
  state.cards = await ctx.cards.get();
}

async function choose(state, ctx, to) {
  state.to = to || null;
  await ask(state, ctx);
  ctx.redraw();
}

/** The lot that has not begun, as far as it has days. */
function beginners({ starts }) {
  const start = starts.find((one) => one.on === null && one.report?.document);
  const items = start?.report.document.items.filter((item) => item.outcome === 'harden') ?? [];
  return items.length ? { start, items, trees: items.flatMap((item) => item.trees.map((one) => one.tree)) } : null;
}

/** From now on the plan keeps its days, so it is kept under its day also where home cannot be reached again. */
async function beginToday(state, ctx) {
  const { start, items, trees } = beginners(state);
  const { document } = start.report;
  const begun = { on: document.on, to: start.to, trees };
  const done = await ctx.saving(async () => {
    await begin(ctx, begun);
    await ctx.kept.put(planPath(begun, placeAsked(state)), { ...document, items });
    const others = start.trees.filter((tree) => !trees.includes(tree));
    const left = document.items.filter((item) => !items.includes(item));
    if (others.length) await ctx.kept.put(planPath({ ...start, trees: others }, placeAsked(state)), { ...document, items: left });
    return true;
  });
  if (!done) return;
  ctx.say(words.out.began);
  await ask(state, ctx);
  ctx.redraw();
}

async function endPlan(state, ctx, start) {
  const done = await ctx.saving(async () => { await giveUp(ctx, start.trees); return true; });
  if (!done) return;
  ctx.say(words.out.gaveUp);
  await ask(state, ctx);
  ctx.redraw();
}

function view(state, ctx) {
  const { whence, id, ids } = state;
  return {
    title: words.out.title, back: { href: id ? `#/${whence}/${id}` : '#/barrow', words: words.back },
    body: ids.length === 0 ? html`<p>${whence === 'barrow' ? words.carry.none : words.out.noTrees}</p>` : html`${whom(state)}${target(state, ctx)}
      ${state.starts.map((start) => lot(start, state, ctx))}`,
    dock: dock(state, ctx),
  };
}

function dock(state, ctx) {
  const { whence, id, starts } = state;
  if (beginners(state)) {
    return html`<button type="button" class="key main" id="begin-out" @click=${() => beginToday(state, ctx)}>${icon('check')}${words.out.begin}</button>`;
  }
  if (whence === 'place' || !starts.some((start) => start.on)) return nothing;
  return html`<a class="key main" href=${id ? `#/tree/${id}/move` : '#/barrow/move'}>${icon('move')}${words.deed.move}</a>`;
}

function whom({ whence, id, ids, cards }) {
  if (whence === 'tree') return html`<p>${plate(cards.trees.get(id).fields.tag)} <strong>${varietyName(cards, cards.trees.get(id))}</strong></p>`;
  const place = whence === 'place' ? cards.places.get(id)?.fields.place : null;
  return html`<p>${place ? html`<strong>${place}</strong> · ` : nothing}${words.trees.count(ids.length)}</p>`;
}

/** Where those that have not begun are to go. */
function target(state, ctx) {
  if (!state.starts.some((start) => start.on === null)) return nothing;
  const outdoors = new Map([...state.cards.places].filter(([, place]) => OUTDOORS.includes(place.fields.cover)));
  return html`<div class="field"><label for="out-to">${words.out.to}</label>
    <select id="out-to" .value=${state.to ?? ''} @change=${(event) => choose(state, ctx, event.target.value)}>
      <option value="">${words.out.brightest}</option>${options(outdoors, 'place').map((place) => html`<option value=${place.value}>${place.words}</option>`)}
    </select></div>`;
}

function lot(start, state, ctx) {
  const { report, on } = start;
  const { cards, ids } = state;
  const items = report?.document?.items ?? [];
  const [carried] = items.filter((item) => item.outcome === 'harden');
  return html`<section class="stack">${on ? begunLine(start, state, ctx) : nothing}
    ${items.map((item) => planPart(item, { trees: cards.trees, units: ctx.units, alone: ids.length === 1 }))}
    ${carried ? caution(words.caution[carried.caution]) : nothing}
    <p class=${report?.document ? 'soft' : ''} role="status">${said(report, ctx)}</p></section>`;
}

function begunLine(start, state, ctx) {
  return html`<div class="between"><p>${words.out.begun(dayOf(start.on))}</p>${twicePressed(state, ctx, {
    name: `end ${start.on} ${start.to}`, label: words.out.giveUp, sure: words.out.giveUpSure, plain: true, run: () => endPlan(state, ctx, start) })}</div>`;
}

/** How fresh the answer is, or why there is none. */
function said(report, ctx) {
  if (report?.document) return (report.error ? words.out.stillFrom : words.out.asOf)(ageWords(report.fetched_at_ms));
  if (report?.error) return report.error.kind === 'offline' ? words.out.away : report.error.message;
  return ctx.sync().phase === 'unpaired' ? words.now.unpaired : words.out.asking;
}

/** The screen as it is reached from a tree, a place or the barrow. */
export function outScreen(whence) {
  return { open: (ctx, { id = null }) => open(ctx, whence, id), view, changed };
}
