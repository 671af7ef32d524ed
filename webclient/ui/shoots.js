// The marked shoots of a tree: a small box for each in the order of their ribbons, and their mean as it comes about.
import { html, nothing } from 'lit-html';
import { live } from 'lit-html/directives/live.js';
import { MARKED_SHOOTS_MAX } from '../core/shapes.js';
import { formatNumber } from '../core/units.js';
import { words } from './text.js';

/** What ends a count on keyboards that have no key for the next box. */
const ENDS = /[\s;,.]+$/;

/** The mean of counts such as `5;6;;7`; null where nothing was counted. */
export function meanOfShoots(text) {
  const counts = (text ?? '').split(';').map((part) => part.trim()).filter((part) => /^\d+$/.test(part)).map(Number);
  return counts.length === 0 ? null : counts.reduce((sum, count) => sum + count, 0) / counts.length;
}

/** Counts for the eye; a shoot that was not found is a dash. */
export function shootsText(text) {
  return text.split(';').map((part) => part.trim() || '\u2013').join(', ');
}

/**
 * The row of boxes.
 * @param {{marked: number, text: string, last: string, error?: string, unknown: boolean}} row `marked`: how many shoots
 *   carry a ribbon; `text` and `last`: counts as `5;6;;7`; `unknown`: all shoots of the tree were never counted
 * @param {(text: string) => void} change
 */
export function shootRow({ marked, text, last, error, unknown }, change) {
  const parts = text === '' ? [] : text.split(';');
  const before = last === '' ? [] : last.split(';');
  const places = Math.min(MARKED_SHOOTS_MAX, Math.max(marked, parts.length));
  const put = (at, value) => change(withPart(parts, places, at, value));
  const mean = meanOfShoots(text);
  // Compared with the last count of the same shoots, as long as only some are counted or found.
  const same = before.map((count, at) => (parts[at] ? count : '')).join(';');
  const meanBefore = meanOfShoots(same) ?? meanOfShoots(last);
  return html`<div class="count shoots" id="marked-shoots" role="group" aria-labelledby="shoots-legend">
    <div class="say">
      <strong id="shoots-legend">${words.marked.legend}</strong>
      <span id="shoots-mean">${mean !== null ? html`<strong>${words.marked.mean(formatNumber(mean, 1))}</strong>` : nothing}
        ${meanBefore !== null ? words.visit.last(formatNumber(meanBefore, 1)) : words.visit.noLast}</span>
    </div>
    <ol class="boxes">${Array.from({ length: places }, (_, at) => box({ at, value: parts[at] ?? '', last: before[at] ?? '', error }, put))}
      <li><button type="button" class="key" id="next-shoot" @mousedown=${(event) => event.preventDefault()}
        @click=${(event) => step(event.target, null)}>${words.marked.next}</button></li></ol>
    ${error ? html`<p class="wrong" id="shoots-wrong">${error}</p>` : nothing}
    ${unknown ? html`<p class="soft small">${words.marked.countAll}</p>` : nothing}
  </div>`;
}

function box({ at, value, last, error }, put) {
  return html`<li><input id="shoot-${at + 1}" class=${value === '' ? '' : 'filled'} type="text" inputmode="numeric" autocomplete="off"
      enterkeyhint="next" aria-label=${words.marked.shoot(at + 1)} aria-describedby=${`shoot-${at + 1}-last shoots-wrong`}
      aria-invalid=${error ? 'true' : 'false'} .value=${live(value)}
      @focus=${(event) => event.target.select()} @keydown=${(event) => onKey(event)}
      @input=${(event) => typed(event.target, at, put)}>
    <span id="shoot-${at + 1}-last">${last === '' ? nothing : words.visit.last(last)}</span></li>`;
}

function typed(input, at, put) {
  const ended = ENDS.test(input.value);
  put(at, input.value.replace(ENDS, ''));
  if (ended) step(input, input);
}

/** Enter goes on to the next shoot; it does not save a visit that is half counted. */
function onKey(event) {
  if (event.key !== 'Enter') return;
  event.preventDefault();
  step(event.target, event.target);
}

/** To the box after `from`, by default the one being typed in; after the last box the keyboard goes away. */
function step(within, from) {
  const boxes = [...within.closest('#marked-shoots').querySelectorAll('input')];
  const at = boxes.indexOf(from ?? document.activeElement);
  const next = at < 0 ? (boxes.find((input) => input.value === '') ?? boxes[0]) : boxes[at + 1];
  if (next) next.focus();
  else boxes[at].blur();
}

/** The counts with one of them changed; nothing at all once the last one is taken out. */
function withPart(parts, places, at, value) {
  const next = Array.from({ length: places }, (_, place) => (place === at ? value : parts[place] ?? ''));
  return next.some((part) => part !== '') ? next.join(';') : '';
}
