// Figures that home computes with and an owner may set: each in its own form, with its bounds and where it comes from.
import { html, nothing } from 'lit-html';
import { live } from 'lit-html/directives/live.js';
import { formatNumber, formatQuantity, parseNumber, parseQuantity, unitLabel } from '../core/units.js';
import { icon } from './icons.js';
import { words } from './text.js';

const QUANTITIES = { '°C': 'temperature', cm: 'length' };
const DECIMALS = 2;

/**
 * Opens the figures that home has at a path.
 * @param {{path: string, key: string, nameOf: (figure: object) => string, bodyOf: (figure: object) => object,
 *   noteOf: (figure: object, units: object) => string}} kind `key` names the draft of what is typed
 */
export async function openFigures(ctx, kind) {
  const draft = (await ctx.drafts.get(kind.key))?.value;
  const state = { kind, figures: [], chosen: draft?.chosen ?? null, texts: draft?.texts ?? {}, problem: null, wrong: null, busy: false };
  try {
    state.figures = (await ctx.home.getJson(kind.path)).figures;
  } catch (error) {
    state.wrong = error.message;
  }
  return state;
}

/** Keeps what is typed, and what is chosen, on the disk. */
export function keepTyped(state, ctx) {
  ctx.keeper.keep(state.kind.key, { chosen: state.chosen, texts: state.texts });
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

/** Sends one figure home, or with null goes back to what stood before; what is wrong stands beside its box. */
async function send(state, ctx, figure, value) {
  if (state.busy) return;
  state.busy = true;
  state.problem = null;
  const name = state.kind.nameOf(figure);
  try {
    state.figures = (await ctx.home.sendJson('PUT', state.kind.path, { ...state.kind.bodyOf(figure), value })).figures;
    delete state.texts[name];
    keepTyped(state, ctx);
    ctx.say(words.saved);
  } catch (error) {
    state.problem = { name, message: error.message };
    ctx.toWrong();
  }
  state.busy = false;
  ctx.redraw();
}

function save(state, ctx, figure) {
  const read = readFigure(figure, state.texts[state.kind.nameOf(figure)] ?? '', ctx.units);
  if ('value' in read) return send(state, ctx, figure, read.value);
  state.problem = { name: state.kind.nameOf(figure), message: read.message };
  ctx.redraw();
  return ctx.toWrong();
}

/** Figures in rows, each in its own form on an owner’s phone. */
export function figureRows(state, ctx, figures) {
  return html`<ul class="rows two">${figures.map((one) => html`<li class="entry">${figureRow(state, ctx, one)}</li>`)}</ul>`;
}

function figureRow(state, ctx, figure) {
  const { unit, value, own, table_value: before } = figure;
  const key = state.kind.nameOf(figure);
  const name = words.species.name(figure.words);
  const note = state.kind.noteOf(figure, ctx.units);
  if (!ctx.owner()) return html`<p><strong>${name} ${figureText(figure, value, ctx.units) || words.form.none}</strong><br>${note}</p>`;
  const id = `figure-${key.replace('.', '-')}`;
  const wrong = state.problem?.name === key ? state.problem.message : null;
  const text = state.texts[key] ?? figureText(figure, value, ctx.units, true);
  const label = QUANTITIES[unit] ? unitLabel(QUANTITIES[unit], ctx.units) : unit;
  const named = name.toLowerCase().includes(unit) ? name : `${name} (${label})`;
  return html`<form class="field figure-form" @submit=${(event) => { event.preventDefault(); save(state, ctx, figure); }}>
    <label for=${id}>${named}</label>
    <div class="keys"><input id=${id} inputmode=${figure.least < 0 ? 'text' : 'decimal'} autocomplete="off" .value=${live(text)} aria-invalid=${wrong ? 'true' : 'false'}
      aria-describedby="${id}-wrong ${id}-source" @input=${(event) => { state.texts[key] = event.target.value; keepTyped(state, ctx); }}>
      ${state.texts[key] === undefined ? nothing : html`<button class="key">${icon('check')}${words.save}</button>`}
      ${own ? html`<button type="button" class="key" @click=${() => send(state, ctx, figure, null)}>${words.species.back(figureText(figure, before, ctx.units))}</button>` : nothing}</div>
    <p class="wrong" id="${id}-wrong">${wrong ?? ''}</p><p class="soft" id="${id}-source">${note}</p></form>`;
}
