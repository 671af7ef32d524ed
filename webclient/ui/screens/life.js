// A tree's life on one page: photos of two days, what was counted over the years, its companions, places, pots and tags.
import { html, nothing } from 'lit-html';
import { showTagCode } from '../../core/tagcode.js';
import { formatQuantity, formatNumber, fromSi, unitLabel } from '../../core/units.js';
import { askHome } from '../asked.js';
import { chart } from '../chart.js';
import { dayOf, noonOf, shortDay } from '../format.js';
import { leafSeries } from '../history.js';
import { icon } from '../icons.js';
import { chooser } from '../learned.js';
import { closeOverlay, fetchSides, openOverlay, overlayPart } from '../overlay.js';
import { plate } from '../plate.js';
import { words } from '../text.js';

const ENTRIES_MAX = 2000;
const DOTS_MAX = 400;
const DAY_MS = 86_400_000;
const POTTED = ['pot_up', 'pot_down'];

async function open(ctx, { id }) {
  const tree = await ctx.records.get('tree', id);
  if (!tree) return { redirect: 'trees' };
  const state = { tree, year: '', home: null };
  await load(state, ctx);
  state.overlay = openOverlay(state.history.filter((entry) => entry.kind === 'photo').toReversed());
  fetchSides(state.overlay, ctx);
  askHome(ctx, `/trees/${id}`, (answer) => { state.home = answer; });
  return state;
}

async function load(state, ctx) {
  const { id } = state.tree;
  const [tree, history, places] = await Promise.all([ctx.records.get('tree', id), ctx.records.history(id, ENTRIES_MAX), ctx.records.list('place')]);
  Object.assign(state, { tree: tree ?? state.tree, history, places: new Map(places.map((place) => [place.id, place])) });
}

async function changed(state, ctx, event) {
  if (event.topic !== 'photos') await load(state, ctx);
}

function close(state) {
  if (state.overlay) closeOverlay(state.overlay);
}

function view(state, ctx) {
  const { tree, overlay } = state;
  return {
    title: words.life.title(showTagCode(tree.fields.tag)), heading: plate(tree.fields.tag, 'big'), back: { href: `#/tree/${tree.id}`, words: words.back },
    body: html`<div class="two"><div class="stack"><section class="stack tight" id="overlay"><h2>${words.life.photos}</h2>${overlayPart(overlay, ctx)}</section>${amongPart(state, ctx)}${stoodPart(state, ctx)}</div>
      <div class="stack">${seriesPart(state, ctx)}</div></div>`,
  };
}

/** Every measure over the same time, so that one can be read against another. */
function seriesPart(state, ctx) {
  const { history, home, year } = state;
  const seen = [...new Set(history.map((entry) => new Date(entry.at_ms).getFullYear()))];
  const within = year ? history.filter((entry) => String(new Date(entry.at_ms).getFullYear()) === year) : history;
  const [from, to] = [within.at(-1)?.at_ms, within[0]?.at_ms];
  const years = [{ value: '', words: words.life.all }, ...seen.map((one) => ({ value: String(one), words: String(one) }))];
  const drawn = measuresOf(state, within, ctx.units).filter(({ points }) => points.length)
    .map((series) => html`<section class="stack tight"><h2>${series.name}</h2>${chart({ ...series, from, to, most: DOTS_MAX })}</section>`);
  return html`${seen.length > 1 ? chooser('life-year', words.life.years, years, year, (chosen) => { state.year = chosen; ctx.redraw(); }) : nothing}
    ${drawn.length ? html`${drawn}<p class="soft">${words.life.marks}</p>` : html`<p>${words.life.nothing}</p>`}
    <p><a class="key" href="#/show/tree/${state.tree.id}">${icon('photo')}${words.show.key}</a></p>
    <p role="status" class="soft">${home?.document ? nothing : home?.error ? words.life.away(home.error.message) : words.life.asking}</p>`;
}

/** Its measures as series for plots, of the entries given; health comes with what home answered. */
export function measuresOf({ places, home }, entries, units) {
  const page = home?.document;
  const leaves = leafSeries(entries, places, page?.trend ?? null);
  const visits = entries.filter((entry) => entry.kind === 'observation' && !entry.fields.part).toReversed();
  const dots = (value) => visits.map((entry) => ({ at: entry.at_ms, value: value(entry.fields) })).filter((dot) => typeof dot.value === 'number');
  const { marks } = leaves;
  const length = unitLabel('length', units);
  const [first, last] = [entries.at(-1)?.at_ms - DAY_MS, entries[0]?.at_ms + DAY_MS];
  const health = (page?.health ?? []).map(({ at, health: value }) => ({ at: noonOf(at), value: Math.round(value) }))
    .filter(({ at }) => at > first && at < last);
  return [
    { ...leaves, name: words.life.leaves },
    { points: dots(({ shoot_cm: cm }) => (typeof cm === 'number' ? Number(fromSi('length', cm, units).toFixed(1)) : null)), marks, unit: length, name: words.life.shoots },
    { points: dots(({ fruit_breba: breba, fruit_main: main }) => (breba == null && main == null ? null : (breba ?? 0) + (main ?? 0))), marks, unit: words.life.fruitUnit, name: words.life.fruit },
    { points: health, marks, unit: words.life.healthUnit, name: words.life.health },
  ];
}

/** Its place among trees of its kind, as home reckons it. */
function amongPart({ home }, ctx) {
  const found = home?.document?.companions;
  if (!found) return nothing;
  const shown = (measure, value) => (measure === 'shoot_cm' ? formatQuantity('length', value, ctx.units) : formatNumber(value, measure === 'change_percent_per_week' ? 1 : 0));
  return html`<section class="stack tight" id="among"><h2>${words.life.among}</h2>
    ${found.ranks.length ? html`<p class="soft">${words.life.who(found.trees, found.place)}</p><ul class="rows">${found.ranks.map(({ measure, value, middle, rank, of }) => html`<li class="entry"><p><strong>${words.life.measure[measure]}</strong>
      <br>${words.life.rank(words.season.place(rank), of, shown(measure, value), shown(measure, middle))}</p></li>`)}</ul>` : html`<p>${words.life.alone}</p>`}</section>`;
}

/** Where it stood, in what, and under which codes. */
function stoodPart({ tree, history, places }, ctx) {
  const { place, pot_litres: pot, started_on: started, tag, former_tags: former = [] } = tree.fields;
  const placeName = (id) => places.get(id)?.fields.place ?? words.history.somewhere;
  const potOf = (litres) => words.life.pot(formatQuantity('volume', litres, ctx.units));
  const first = [place && placeName(place), pot && potOf(pot)].filter(Boolean).join(', ');
  const later = history.toReversed().map((entry) => ({
    at: entry.at_ms,
    text: entry.kind === 'move' ? placeName(entry.fields.to_place) : entry.kind === 'work' && POTTED.includes(entry.fields.task) && entry.fields.amount ? potOf(entry.fields.amount) : '',
  })).filter(({ text }) => text);
  const line = (when, text) => html`<li class="entry"><p><span class="soft">${when}</span> ${text}</p></li>`;
  return html`<section class="stack tight" id="stood"><h2>${words.life.stood}</h2>
    <ul class="rows">${first ? line(started ? words.life.from(dayOf(started)) : words.life.start, first) : nothing}${later.map(({ at, text }) => line(words.life.from(shortDay(at)), text))}</ul>
    <p class="tags">${words.life.tagged} ${[tag, ...former].map((code) => plate(code))}</p></section>`;
}

export const lifeScreen = { open, view, changed, close };
