// A place: who stands there in walking order, and what its thermometer said.
import { html, nothing } from 'lit-html';
import { formatQuantity } from '../../core/units.js';
import { COVERS, wordsFor } from '../../core/vocabularies.js';
import { placeOf, varietyName, walkingOrder } from '../cards.js';
import { today } from '../fields.js';
import { dayOf } from '../format.js';
import { fileIn } from '../filein.js';
import { formFields, openForm, saveForm } from '../form.js';
import { glancePart, heatPart } from '../heat.js';
import { icon } from '../icons.js';
import { caution, firstOf, treeRow } from '../parts.js';
import { words } from '../text.js';

const READING_NAMES = ['date', 't_min_c', 't_max_c'];
const READINGS_SHOWN = 7;
const COVERED = ['porch', 'glasshouse', 'polytunnel', 'low_tunnel', 'indoors'];

async function open(ctx, { id }) {
  const place = await ctx.records.get('place', id);
  if (!place) return { redirect: 'places' };
  const state = { id, shown: undefined, busy: false, heat: null };
  await load(state, ctx);
  state.form = await readingForm(ctx, id);
  askHome(state, ctx);
  return state;
}

/** Heat is summed at home only; without home the place's own readings stand there. */
async function askHome(state, ctx) {
  if (!['idle', 'syncing'].includes(ctx.sync().phase)) return;
  const report = await ctx.home.getJson('/reports/heat').catch(() => null);
  state.heat = report?.items.find((item) => item.id === state.id) ?? null;
  ctx.redraw();
}

function readingForm(ctx, id) {
  return openForm(ctx, { kind: 'reading', key: `reading:${id}`, names: READING_NAMES, start: { date: today() } });
}

async function load(state, ctx) {
  const [place, cards, readings] = await Promise.all([ctx.records.get('place', state.id), ctx.cards.get(), ctx.records.list('reading')]);
  const own = readings.filter((one) => one.fields.place === state.id).sort((a, b) => (a.fields.date < b.fields.date ? 1 : -1));
  const trees = walkingOrder(cards, [...cards.trees.values()].filter((tree) => placeOf(cards, tree)?.id === state.id && tree.fields.standing !== 'retired'));
  Object.assign(state, { place: place ?? state.place, cards, trees, readings: own });
}

async function changed(state, ctx) {
  await load(state, ctx);
}

async function saveReading(state, ctx) {
  if (state.busy) return;
  state.busy = true;
  const date = state.form.texts.date;
  const known = state.readings.find((one) => one.fields.date === date);
  if (known) Object.assign(state.form, { record: known.id, before: known.fields });
  const saved = await saveForm(state.form, ctx, known ? {} : { place: state.id });
  state.busy = false;
  if (!saved) return;
  state.form = await readingForm(ctx, state.id);
  ctx.say(words.place.readingSaved(dayOf(date)), saved.undo.length ? () => ctx.saving(() => ctx.records.saveAll(saved.undo)) : null);
}

function view(state, ctx) {
  const { place, trees, cards } = state;
  const { cover, light_percent: light, heated, note } = place.fields;
  return {
    title: place.fields.place, back: { href: '#/places', words: words.screens.places },
    body: html`<p class="soft">${[cover && wordsFor(COVERS, cover), light != null && words.place.light(light), heated && words.place.heated].filter(Boolean).join(' · ')}</p>
      ${note ? html`<p>${note}</p>` : nothing}
      ${heated && COVERED.includes(cover) ? caution(words.caution.heater) : nothing}
      <div class="two"><section class="stack tight"><h2>${words.trees.count(trees.length)}</h2>
        ${firstOf(trees, state, ctx, (tree) => treeRow(tree, { variety: varietyName(cards, tree), below: tree.fields.position ? words.tree.position(tree.fields.position) : '' }), 20)}</section>
      <div class="stack">${glancePart(place.fields, state.readings, ctx.units)}${readingSection(state, ctx)}${heatPart(state.heat, ctx.units)}</div></div>
      <div class="keys">${trees.length && cover !== 'ground' ? html`<a class="key" href="#/place/${place.id}/out">${icon('out')}${words.deed.out}</a>` : nothing}
      ${ctx.owner() && trees.length > 1 ? html`<a class="key" href="#/place/${place.id}/walk">${icon('round')}${words.walk.key}</a>` : nothing}
      ${ctx.owner() ? html`<a class="key" href="#/edit/place/${place.id}">${icon('edit')}${words.deed.edit}</a>` : nothing}</div>`,
  };
}

function readingSection(state, ctx) {
  const { form, readings } = state;
  return html`<section class="stack"><h2>${words.place.thermometer}</h2>
    <form class="form" @submit=${(event) => { event.preventDefault(); saveReading(state, ctx); }}>${formFields(form, ctx)}
      <button class="key" id="save-reading" ?disabled=${state.busy}>${icon('thermometer')}${words.place.saveReading}</button></form>
    ${readings.length ? html`<table><thead><tr><th scope="col">${words.chart.day}</th><th scope="col">${words.field.t_min_c}</th><th scope="col">${words.field.t_max_c}</th></tr></thead>
      <tbody>${readings.slice(0, READINGS_SHOWN).map(({ fields }) => html`<tr><th scope="row">${dayOf(fields.date)}</th>
        <td>${formatQuantity('temperature', fields.t_min_c, ctx.units)}</td><td>${formatQuantity('temperature', fields.t_max_c, ctx.units)}</td></tr>`)}</tbody></table>` : nothing}
    ${ctx.owner() ? fileIn(state, ctx, { path: `/places/${state.id}/logger`, label: words.filein.logger, tell: words.filein.readings, asks: words.filein.asks }) : nothing}</section>`;
}

export const placeScreen = { open, view, changed };
