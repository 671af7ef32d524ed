// Turns a record's values into the texts of a form and back, in the grower's units, and draws one field.
import { html, nothing } from 'lit-html';
import { live } from 'lit-html/directives/live.js';
import { KINDS, problemsOf } from '../core/shapes.js';
import { dateText, timeMs, timeText } from '../core/time.js';
import { formatNumber, formatQuantity, parseNumber, parseQuantity, unitLabel } from '../core/units.js';
import { choice, toggles } from './parts.js';
import { words } from './text.js';

/** So many fixed choices are shown as keys; more of them as a list to open. */
const KEYS_MAX = 3;

const DECIMALS_SHOWN = 4;

/** The text that stands in a form for one stored value. */
export function textOf(kind, field, value, units) {
  const rule = KINDS[kind][field];
  if (value === null || value === undefined) return '';
  if (rule.quantity) return formatQuantity(rule.quantity, value, units, { bare: true, decimals: 2 }).replace('\u2212', '-');
  if (rule.type === 'number' || rule.type === 'int') return formatNumber(value, DECIMALS_SHOWN).replace('\u2212', '-');
  if (rule.type === 'bool') return value ? 'yes' : 'no';
  if (rule.type === 'time') return localTime(timeMs(value) ?? Date.now());
  return Array.isArray(value) ? value.join(';') : String(value);
}

/** A moment as a `datetime-local` box holds it. */
export function localTime(at) {
  return timeText(at).slice(0, 16);
}

/**
 * Reads a form.
 * @param {Record<string, string>} texts field → text as typed
 * @param {{before?: object|null, units: object, given?: object}} options
 *   `before`: the stored record when one is edited; only fields that differ from it are set.
 *   `given`: values that come from elsewhere than the form, so that they are not missed
 * @returns {{set: Record<string, unknown>, problems: Array<{field: string, message: string}>}}
 */
export function readForm(kind, texts, { before = null, units, given = {} }) {
  const set = {};
  const problems = [];
  for (const [field, text] of Object.entries(texts)) {
    if (before && text === textOf(kind, field, before[field], units)) continue;
    const read = readText(KINDS[kind][field], text, units);
    if ('error' in read) problems.push({ field, message: words.form.number });
    else if (read.value !== null || (before && before[field] !== null && before[field] !== undefined)) set[field] = read.value;
  }
  const known = new Set(problems.map((problem) => problem.field));
  const more = problemsOf(kind, { ...given, ...set }, { before }).filter((problem) => !known.has(problem.field));
  return { set, problems: [...problems, ...more.map((problem) => inUnits(kind, problem, units))] };
}

/** A bound is told in the unit that the grower types in. */
function inUnits(kind, problem, units) {
  const rule = KINDS[kind][problem.field];
  if (!rule?.quantity || !problem.message.includes(String(rule.max))) return problem;
  const bound = (value) => formatQuantity(rule.quantity, value, units);
  return { field: problem.field, message: words.form.between(bound(rule.min), bound(rule.max)) };
}

function readText(rule, text, units) {
  const plain = text.trim();
  if (plain === '') return { value: null };
  if (rule.quantity) return parseQuantity(rule.quantity, plain, units);
  if (rule.type === 'number' || rule.type === 'int') return parseNumber(plain);
  if (rule.type === 'bool') return { value: plain === 'yes' };
  if (rule.type === 'time') return { value: timeText(new Date(plain).getTime()) };
  if (rule.type === 'refs') return { value: plain.split(';') };
  return { value: plain };
}

/** A label with its unit, e.g. `Pot (l)`. */
export function labelOf(kind, field, units) {
  const rule = KINDS[kind][field];
  const label = words.field[field];
  return rule.quantity ? `${label} (${unitLabel(rule.quantity, units)})` : label;
}

/**
 * One labelled field of a form.
 * @param {{kind: string, field: string, texts: object, problems?: Array, units: object, choices?: Array<{value: string,
 *   words: string}>, prefix?: string, change: (field: string, text: string) => void}} options
 */
export function field(options) {
  const { kind, texts, problems = [], units, change } = options;
  const name = options.field;
  const id = `${options.prefix ?? kind}-${name}`;
  const problem = problems.find((p) => p.field === name);
  const keys = keysFor({ ...options, rule: KINDS[kind][name], id });
  if (keys) return html`${keys}${problem ? html`<p class="wrong" role="alert">${problem.message}</p>` : nothing}`;
  const box = boxFor({ ...options, id, rule: KINDS[kind][name], text: texts[name] ?? '', problem, change: (text) => change(name, text) });
  return html`<div class="field">
    <label for=${id}>${labelOf(kind, name, units)}</label>
    ${box}
    ${problem ? html`<p class="wrong" id="${id}-wrong">${problem.message}</p>` : nothing}
  </div>`;
}

/** Fixed choices as keys, where there are few or several may be true at once; null for any other field. */
function keysFor({ kind, field: name, texts, units, rule, id, choices, change }) {
  const args = [labelOf(kind, name, units), id];
  if (rule.type === 'choices') return toggles(...args, rule.of, texts[name] ?? '', (text) => change(name, text));
  const few = fewChoices(rule, choices);
  return few && choice(...args, few, texts[name] ?? '', (text) => change(name, text));
}

function fewChoices(rule, choices) {
  if (rule.type === 'bool') return [{ value: 'yes', words: words.form.yes, clears: true }, { value: 'no', words: words.form.no, clears: true }];
  if (choices || !rule.of || rule.of.length > KEYS_MAX) return null;
  return rule.of.map((one) => ({ ...one, clears: !rule.required }));
}

function boxFor(box) {
  if (box.choices || box.rule.of) return chooser(box, box.choices ?? box.rule.of);
  if (box.rule.max === 2000 && box.rule.type === 'text') return noteBox(box);
  return lineBox(box);
}

function chooser({ id, text, rule, problem, change }, choices) {
  return html`<select id=${id} aria-invalid=${problem ? 'true' : 'false'} aria-describedby=${`${id}-wrong`}
      @change=${(event) => change(event.target.value)}>
    ${rule.required && text ? nothing : html`<option value="" ?selected=${text === ''}>${words.form.none}</option>`}
    ${choices.map((choice) => html`<option value=${choice.value} ?selected=${String(choice.value) === text}>${choice.words}</option>`)}
  </select>`;
}

function noteBox({ id, text, problem, change }) {
  return html`<textarea id=${id} .value=${live(text)} aria-invalid=${problem ? 'true' : 'false'} aria-describedby=${`${id}-wrong`}
    @input=${(event) => change(event.target.value)}></textarea>`;
}

const INPUT_TYPES = { date: 'date', time: 'datetime-local' };

function lineBox({ id, text, rule, problem, change }) {
  const numeric = rule.type === 'number' || rule.type === 'int';
  // A minus key is missing from many phones' decimal keypad, so fields that may be negative get the whole keyboard.
  const mode = numeric && rule.min >= 0 ? (rule.type === 'int' ? 'numeric' : 'decimal') : 'text';
  return html`<input id=${id} type=${INPUT_TYPES[rule.type] ?? 'text'} inputmode=${mode} autocomplete="off" .value=${live(text)}
    aria-invalid=${problem ? 'true' : 'false'} aria-describedby=${`${id}-wrong`} @input=${(event) => change(event.target.value)}>`;
}

/** Today as a form writes a day. */
export function today() {
  return dateText();
}
