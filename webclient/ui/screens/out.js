// Bringing out: day-by-day plans for a tree, for the pots on the barrow, or for all that stand in a place.
import { html, nothing } from 'lit-html';
import { dateText, daysBetween } from '../../core/time.js';
import { askHome } from '../asked.js';
import { begin, begunPlans, giveUp, itemsOf, lotsOf, planPath } from '../begun.js';
import { options, placeOf, varietyName } from '../cards.js';
import { ageWords, dayOf } from '../format.js';
import { icon } from '../icons.js';
import { planPart } from '../outplan.js';
import { caution, twicePressed } from '../parts.js';
import { plate } from '../plate.js';
import { words } from '../text.js';

const OUTDOORS = ['open', 'shade', 'porch'];
const BACK = { barrow: '#/barrow', begun: '#/now' };

/** @param {'tree'|'barrow'|'place'|'begun'} whence whose trees: one, the barrow's, a place's, or all that have begun */
async function open(ctx, whence, id) {
  const state = { id, whence, cards: await ctx.cards.get(), ids: [], to: null, lots: [], asked: null };
  state.ids = await treesShown(state, ctx);
  await ask(state, ctx);
  return state;
}

async function treesShown({ id, whence, cards }, ctx) {
  if (whence === 'place') {
    return [...cards.trees.values()].filter((tree) => placeOf(cards, tree)?.id === id && tree.fields.standing !== 'retired').map((tree) => tree.id);
  }
  const ids = { tree: async () => [id], barrow: async () => (await ctx.drafts.get('barrow'))?.value ?? [], begun: async () => Object.keys(await begunPlans(ctx)) };
  return (await ids[whence]()).filter((one) => cards.trees.has(one));
}

/** Asks home for each lot of trees that begin together. */
async function ask(state, ctx) {
  state.lots = lotsOf(state.ids, await begunPlans(ctx), state.to).map((lot) => ({ ...lot, report: null }));
  for (const lot of state.lots) {
    askHome(ctx, planPath(lot, state.whence === 'place' ? state.id : null), (report) => { lot.report = report; });
  }
}

async function changed(state, ctx) {
  state.cards = await ctx.cards.get();
}

async function askAgain(state, ctx, said = null) {
  if (said) ctx.say(said);
  state.ids = await treesShown(state, ctx);
  await ask(state, ctx);
  ctx.redraw();
}

/** The lot that has not begun, with its plan as far as there are days; null when there are none, or only old ones. */
function beginners({ lots }) {
  const lot = lots.find((one) => one.on === null && one.report?.document);
  // Around midnight home may be a day ahead of the phone, or behind it.
  if (!lot || Math.abs(daysBetween(lot.report.document.on, dateText())) > 1) return null;
  const items = lot.report.document.items.filter((item) => item.outcome === 'harden');
  return items.length ? { lot, document: { ...lot.report.document, items } } : null;
}

async function beginPlan(state, ctx) {
  const { lot, document } = beginners(state);
  const done = await ctx.saving(async () => { await begin(ctx, lot, document); return true; });
  if (done) await askAgain(state, ctx, words.out.began);
}

async function endPlan(state, ctx, lot) {
  const done = await ctx.saving(async () => { await giveUp(ctx, lot, lot.report?.document ?? null); return true; });
  if (done) await askAgain(state, ctx, words.out.gaveUp);
}

function view(state, ctx) {
  const { whence, id, ids } = state;
  return {
    title: words.out.title, back: { href: id ? `#/${whence}/${id}` : BACK[whence], words: words.back },
    body: ids.length === 0 ? html`<p>${words.out.none[whence]}</p>` : html`${whom(state)}${target(state, ctx)}
      ${state.lots.map((lot) => lotPart(lot, state, ctx))}`,
    dock: dock(state, ctx),
  };
}

function dock(state, ctx) {
  const { whence, id, lots } = state;
  const begins = beginners(state)?.document.on;
  if (begins) {
    return html`<button type="button" class="key main" id="begin-out" @click=${() => beginPlan(state, ctx)}>${icon('check')}${
      begins === dateText() ? words.out.begin : words.out.beginOn(dayOf(begins))}</button>`;
  }
  const move = { tree: `#/tree/${id}/move`, barrow: '#/barrow/move' }[whence];
  return move && lots.some((lot) => lot.on) ? html`<a class="key main" href=${move}>${icon('move')}${words.deed.move}</a>` : nothing;
}

function whom({ whence, id, ids, cards }) {
  if (whence === 'tree') return html`<p>${plate(cards.trees.get(id).fields.tag)} <strong>${varietyName(cards, cards.trees.get(id))}</strong></p>`;
  const place = whence === 'place' ? cards.places.get(id)?.fields.place : null;
  return html`<p>${place ? html`<strong>${place}</strong> · ` : nothing}${words.trees.count(ids.length)}</p>`;
}

/** Where those that have not begun are to go. */
function target(state, ctx) {
  if (!state.lots.some((lot) => lot.on === null)) return nothing;
  const outdoors = new Map([...state.cards.places].filter(([, place]) => OUTDOORS.includes(place.fields.cover)));
  return html`<div class="field"><label for="out-to">${words.out.to}</label>
    <select id="out-to" .value=${state.to ?? ''} @change=${(event) => { state.to = event.target.value || null; askAgain(state, ctx); }}>
      <option value="">${words.out.brightest}</option>${options(outdoors, 'place').map((place) => html`<option value=${place.value}>${place.words}</option>`)}
    </select></div>`;
}

function lotPart(lot, state, ctx) {
  const { report, on, shown } = lot;
  const { cards, ids } = state;
  const items = report?.document ? itemsOf(report.document, shown) : [];
  const [carried] = items.filter((item) => item.outcome === 'harden');
  return html`<section class="stack">${on ? begunLine(lot, state, ctx) : nothing}
    ${items.map((item) => planPart(item, { trees: cards.trees, units: ctx.units, alone: ids.length === 1 }))}
    ${carried ? caution(words.caution[carried.caution]) : nothing}
    <p class=${report?.document ? 'soft' : ''} role="status">${said(report, ctx)}</p></section>`;
}

function begunLine(lot, state, ctx) {
  const today = dateText();
  const over = lot.report?.document?.items.every((item) => !item.days.length || (item.arrives_on && item.arrives_on < today));
  return html`<div class="between"><p>${words.out.begun(dayOf(lot.on))}</p>${twicePressed(state, ctx, {
    name: `end ${lot.on} ${lot.to}`, label: over ? words.out.putAway : words.out.giveUp, sure: words.out.giveUpSure, plain: true, run: () => endPlan(state, ctx, lot) })}</div>`;
}

/** How fresh the answer is, or why there is none. */
function said(report, ctx) {
  if (report?.document) return (report.error ? words.out.stillFrom : words.out.asOf)(ageWords(report.fetched_at_ms));
  if (report?.error) return report.error.kind === 'offline' ? words.out.away : report.error.message;
  return ctx.sync().phase === 'unpaired' ? words.now.unpaired : words.out.asking;
}

/** The screen as it is reached from a tree, a place, the barrow, or from Now for all that have begun. */
export function outScreen(whence) {
  return { open: (ctx, { id = null }) => open(ctx, whence, id), view, changed };
}
