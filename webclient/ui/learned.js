// What the screens of looking back have in common: how old a report is, whether home is being asked, and what to note.
import { html, nothing } from 'lit-html';
import { ageWords, dayOf } from './format.js';
import { icon } from './icons.js';
import { words } from './text.js';

/** How old the report is, that home is being asked, or why it did not answer. */
export function reportState({ document, fetched_at_ms: at, asking, error }, ctx) {
  const age = document && at ? words.learned.asOf(ageWords(at), dayOf(document.on)) : '';
  const reason = error?.message ?? '';
  return html`<div role="status" class="stack tight">
    ${!document && ctx.sync().phase === 'unpaired' ? html`<p>${words.learned.unpaired}</p><p><a class="key" href="#/pair">${icon('phone')}${words.pair.title}</a></p>` : nothing}
    ${asking && !document ? html`<p>${words.learned.asking}</p>` : nothing}
    ${reason ? html`<p>${document ? words.learned.away(reason) : words.learned.nothing(reason)}</p>` : nothing}
    ${age ? html`<p class="soft">${age}</p>` : nothing}</div>`;
}

/** An empty screen that says what to note, so that there will be something to see. */
export function teaching(title, sentences, key) {
  return html`<section class="stack"><p class="figure">${title}</p><ul class="stack points">${sentences.map((one) => html`<li>${one}</li>`)}</ul><p>${key}</p></section>`;
}

/** Sentences that open at a touch. */
export function opening(title, sentences, more = nothing) {
  return html`<details class="opens"><summary><span>${title}</span></summary><ul class="stack points">${sentences.map((one) => html`<li>${one}</li>`)}</ul>${more}</details>`;
}

/** One choice of many, as a list to open. */
export function chooser(id, label, options, chosen, pick) {
  return html`<div class="field"><label for=${id}>${label}</label><select id=${id} @change=${(event) => pick(event.target.value)}>
    ${options.map(({ value, words: name }) => html`<option value=${value} ?selected=${value === chosen}>${name}</option>`)}</select></div>`;
}
