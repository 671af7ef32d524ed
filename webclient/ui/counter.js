// A counted figure: a label, what it was last time, and big keys to count up and down.
import { html, nothing } from 'lit-html';
import { live } from 'lit-html/directives/live.js';
import { icon } from './icons.js';
import { words } from './text.js';

/**
 * One row of the form.
 * @param {{name: string, label: string, text: string, last: number|null, lastText: string, from: number,
 *   step: number, min: number, max: number, decimals: number, error?: string}} field `text` is what stands in the box
 * @param {(name: string, text: string) => void} change
 */
export function counter(field, change) {
  const id = `count-${field.name}`;
  const nudge = (sign) => change(field.name, nudgedText(field, sign));
  return html`<div class="count">
    <div class="say">
      <label for=${id}>${field.label}</label>
      <span id="${id}-last">${field.lastText}</span>
    </div>
    <div class="set">
      <button type="button" class="key" aria-label=${words.count.less(field.label)} @click=${() => nudge(-1)}>${icon('minus')}</button>
      <input id=${id} class=${field.text === '' ? '' : 'filled'} type="text" autocomplete="off"
        inputmode=${field.decimals ? 'decimal' : 'numeric'} .value=${live(field.text)}
        aria-describedby="${id}-last${field.error ? ` ${id}-wrong` : ''}" aria-invalid=${field.error ? 'true' : 'false'}
        @focus=${(event) => event.target.select()}
        @input=${(event) => change(field.name, event.target.value)}>
      <button type="button" class="key" aria-label=${words.count.more(field.label)} @click=${() => nudge(1)}>${icon('plus')}</button>
    </div>
    ${field.error ? html`<p class="wrong" id="${id}-wrong">${field.error}</p>` : nothing}
  </div>`;
}

/** The text after one press: from what stands there, else from the last visit's value, kept within bounds. */
export function nudgedText(field, sign) {
  const typed = Number(field.text.replace(',', '.'));
  const empty = field.text.trim() === '' || Number.isNaN(typed);
  const start = empty ? (field.last ?? field.from) : typed;
  const next = Math.min(field.max, Math.max(field.min, start + sign * field.step));
  return String(Number(next.toFixed(field.decimals)));
}
