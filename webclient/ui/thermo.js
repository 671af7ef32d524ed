// Minimum and maximum thermometers at the start of a round: the places that have no reading of today, in one form.
import { html, nothing } from 'lit-html';
import { dateText } from '../core/time.js';
import { unitLabel } from '../core/units.js';
import { readForm } from './fields.js';
import { icon } from './icons.js';
import { words } from './text.js';

const NAMES = ['t_min_c', 't_max_c'];

/** The places of a round that nobody read today. */
export async function unread(ctx, cards, places) {
  const today = dateText();
  const read = new Set((await ctx.records.list('reading')).filter(({ fields }) => fields.date === today).map(({ fields }) => fields.place));
  const wanted = places.length ? places : [...cards.places.keys()];
  return wanted.map((id) => cards.places.get(id)).filter((place) => place && !read.has(place.id));
}

async function save(state, ctx) {
  const edits = [];
  state.thermoWrong = {};
  for (const place of state.unread) {
    const texts = state.thermo[place.id] ?? {};
    if (!NAMES.some((name) => texts[name])) continue;
    const given = { place: place.id, date: dateText() };
    const { set, problems } = readForm('reading', texts, { units: ctx.units, given });
    problems.forEach(({ field, message }) => { state.thermoWrong[`${place.id}-${field}`] = message; });
    edits.push({ kind: 'reading', record: null, set: { ...given, ...set } });
  }
  ctx.redraw();
  if (Object.keys(state.thermoWrong).length) return ctx.toWrong();
  if (edits.length === 0) return;
  const saved = await ctx.saving(() => ctx.records.saveAll(edits));
  if (!saved) return;
  state.thermo = {};
  ctx.say(words.thermo.saved(edits.length), () => ctx.saving(() => ctx.records.saveAll(saved.flatMap((one) => one.undo))));
}

/** The form, folded until it is opened, so that a round can be walked without it. */
export function thermoPart(state, ctx) {
  if (!state.unread?.length) return nothing;
  state.thermo ??= {};
  state.thermoWrong ??= {};
  const unit = unitLabel('temperature', ctx.units);
  return html`<details class="sheet" id="thermometers"><summary>${words.thermo.open(state.unread.length)}</summary><p>${words.thermo.how}</p>
    ${state.unread.map((place) => html`<div class="halves keys">${NAMES.map((name) => box(state, ctx, place, name, unit))}</div>`)}
    <button type="button" class="key" id="save-thermometers" @click=${() => save(state, ctx)}>${icon('thermometer')}${words.thermo.save}</button></details>`;
}

function box(state, ctx, place, name, unit) {
  const id = `${place.id}-${name}`;
  const label = (name === 't_min_c' ? words.thermo.low : words.thermo.high)(place.fields.place);
  const wrong = state.thermoWrong[id];
  return html`<div class="field"><label for=${id}>${label}, ${unit}</label><input id=${id} inputmode="text" autocomplete="off" .value=${state.thermo[place.id]?.[name] ?? ''}
    aria-invalid=${wrong ? 'true' : 'false'} aria-describedby="${id}-wrong" @input=${(event) => { (state.thermo[place.id] ??= {})[name] = event.target.value; }}>
    <p class="wrong" id="${id}-wrong">${wrong ?? nothing}</p></div>`;
}
