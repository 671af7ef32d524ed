// What is known of each species: which figures have a source, and which are a grower's setting that an owner changes.
import { html, nothing } from 'lit-html';
import { live } from 'lit-html/directives/live.js';
import { formatNumber, formatQuantity, parseNumber, parseQuantity, unitLabel } from '../../core/units.js';
import { icon } from '../icons.js';
import { words } from '../text.js';

const KEY = 'species';
const QUANTITIES = { '°C': 'temperature', cm: 'length' };
const DECIMALS = 2;

async function open(ctx) {
  const draft = (await ctx.drafts.get(KEY))?.value;
  const state = { figures: [], species: draft?.species ?? null, texts: draft?.texts ?? {}, problem: null, wrong: null, busy: false };
  try {
    takeIn(state, await ctx.home.getJson('/settings/species'));
  } catch (error) {
    state.wrong = error.message;
  }
  return state;
}

function takeIn(state, { figures }) {
  state.figures = figures;
  if (!figures.some((one) => one.species === state.species)) state.species = figures[0]?.species ?? null;
}

const nameOf = (figure) => `${figure.species}.${figure.name}`;

function keep(state, ctx) {
  ctx.keeper.keep(KEY, { species: state.species, texts: state.texts });
  ctx.redraw();
}

/** A figure's value in the grower's unit; its unit beside it only where asked for. */
export function figureText({ unit }, value, units, bare = false) {
  if (value === null || value === undefined) return '';
  const quantity = QUANTITIES[unit];
  if (quantity) return formatQuantity(quantity, value, units, { bare, decimals: DECIMALS });
  return bare ? formatNumber(value, DECIMALS) : `${formatNumber(value, DECIMALS)} ${unit}`;
}

/**
 * Reads what is typed for a figure; its bounds come from home and are told in the grower's unit.
 * @returns {{value: number}|{message: string}}
 */
export function readFigure(figure, text, units) {
  const quantity = QUANTITIES[figure.unit];
  const read = quantity ? parseQuantity(quantity, text, units) : parseNumber(text);
  if ('error' in read || read.value === null) return { message: words.form.number };
  if (read.value >= figure.least && read.value <= figure.most) return { value: read.value };
  return { message: words.form.between(figureText(figure, figure.least, units), figureText(figure, figure.most, units)) };
}

/** Sends one figure home, or with null goes back to the table's; what is wrong stands beside its box. */
async function send(state, ctx, figure, value) {
  if (state.busy) return;
  state.busy = true;
  state.problem = null;
  try {
    takeIn(state, await ctx.home.sendJson('PUT', '/settings/species', { species: figure.species, name: figure.name, value }));
    delete state.texts[nameOf(figure)];
    keep(state, ctx);
    ctx.say(words.saved);
  } catch (error) {
    state.problem = { name: nameOf(figure), message: error.message };
    ctx.toWrong();
  }
  state.busy = false;
  ctx.redraw();
}

function save(state, ctx, figure) {
  const read = readFigure(figure, state.texts[nameOf(figure)] ?? '', ctx.units);
  if ('value' in read) return send(state, ctx, figure, read.value);
  state.problem = { name: nameOf(figure), message: read.message };
  ctx.redraw();
  return ctx.toWrong();
}

function view(state, ctx) {
  const all = new Map(state.figures.map((one) => [one.species, one.species_words]));
  return {
    title: words.species.title, back: { href: '#/settings', words: words.screens.settings },
    body: html`<div role="alert">${state.wrong ? html`<p class="wrong">${state.wrong}</p>` : nothing}</div>
      ${all.size ? html`<p>${ctx.owner() ? words.species.how : words.species.helper}</p>
      <div class="field"><label for="which-species">${words.field.species}</label>
        <select id="which-species" @change=${(event) => { state.species = event.target.value; state.problem = null; keep(state, ctx); }}>
        ${[...all].map(([value, name]) => html`<option value=${value} ?selected=${value === state.species}>${name}</option>`)}</select></div>
      <ul class="rows two">${state.figures.filter((one) => one.species === state.species).map((one) => html`<li class="entry">${figureRow(state, ctx, one)}</li>`)}</ul>` : nothing}`,
  };
}

function figureRow(state, ctx, figure) {
  const { unit, value, own, table_value: before } = figure;
  const name = words.species.name(figure.words);
  if (!ctx.owner()) return html`<p><strong>${name} ${figureText(figure, value, ctx.units) || words.form.none}</strong><br>${sourceText(figure, ctx.units)}</p>`;
  const id = `figure-${nameOf(figure).replace('.', '-')}`;
  const wrong = state.problem?.name === nameOf(figure) ? state.problem.message : null;
  const text = state.texts[nameOf(figure)] ?? figureText(figure, value, ctx.units, true);
  const label = QUANTITIES[unit] ? unitLabel(QUANTITIES[unit], ctx.units) : unit;
  const named = name.toLowerCase().includes(unit) ? name : `${name} (${label})`;
  return html`<form class="field figure-form" @submit=${(event) => { event.preventDefault(); save(state, ctx, figure); }}>
    <label for=${id}>${named}</label>
    <div class="keys"><input id=${id} inputmode=${figure.least < 0 ? 'text' : 'decimal'} autocomplete="off" .value=${live(text)} aria-invalid=${wrong ? 'true' : 'false'}
      aria-describedby="${id}-wrong ${id}-source" @input=${(event) => { state.texts[nameOf(figure)] = event.target.value; keep(state, ctx); }}>
      ${state.texts[nameOf(figure)] === undefined ? nothing : html`<button class="key">${icon('check')}${words.save}</button>`}
      ${own ? html`<button type="button" class="key" @click=${() => send(state, ctx, figure, null)}>${words.species.back(figureText(figure, before, ctx.units))}</button>` : nothing}</div>
    <p class="wrong" id="${id}-wrong">${wrong ?? ''}</p><p class="soft" id="${id}-source">${sourceText(figure, ctx.units)}</p></form>`;
}

/** Where a figure comes from, and the range that it was seen in. */
function sourceText(figure, units) {
  const { low, high, source, own, is_setting: setting } = figure;
  const range = low !== null && high !== null ? words.species.range(figureText(figure, low, units, true), figureText(figure, high, units)) : '';
  const from = own ? words.species.own : setting ? words.species.setting : words.species.source(source);
  return [from, range].filter(Boolean).join(' ');
}

export const speciesScreen = { open, view };
