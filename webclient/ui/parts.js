// Small pieces that many screens share: rows of trees, levels, cautions, and a key that asks twice.
import { html, nothing } from 'lit-html';
import { icon } from './icons.js';
import { plate } from './plate.js';
import { words } from './text.js';

/** The level of a finding: a shape and a word before any colour. */
export function level(name) {
  return html`<span class="level ${name}">${icon(name)}${words.level[name] ?? name}</span>`;
}

/** One tree in a list. `end` is what stands at the right. */
export function treeRow(tree, { variety, below, end = nothing, href }) {
  return html`<a class="row" href=${href ?? `#/tree/${tree.id}`}>
    ${plate(tree.fields.tag)}
    <span class="grow"><span class="between"><strong>${variety || words.tree.noVariety}</strong><span class="soft small">${end}</span></span>
      <span class="soft small">${below}</span></span>
  </a>`;
}

/** What stands where trees will be, as long as there are none: the first steps, each with its way. */
export function beginning(ctx, places) {
  const { beginning: say } = words;
  if (!ctx.owner()) return html`<p>${say.helper}</p>`;
  const step = (href, sign, name, why, done = false) => html`<li><a class="row" href=${href}>${icon(done ? 'check' : sign)}<span class="grow"><strong>${name}</strong>
    <span class="soft small">${why}</span></span>${icon('on')}</a></li>`;
  return html`<section class="stack tight" id="beginning"><h2>${say.title}</h2><ol class="rows">
    ${step('#/places', 'place', say.places, say.placesWhy, places > 0)}${step('#/tags', 'print', say.tags, say.tagsWhy)}${step('#/scan', 'scan', say.scan, say.scanWhy)}</ol>
    <p class="soft">${say.lists}</p></section>`;
}

/** A row of a list of cards: the way to its form for an owner, only read by a helper. */
export function rowOf(ctx, href, parts) {
  return ctx.owner() ? html`<a class="row" href=${href}>${parts}</a>` : html`<div class="row">${parts}</div>`;
}

/** A line of caution beside a task. */
export function caution(text) {
  return text ? html`<p class="caution" role="note">${text}</p>` : nothing;
}

/**
 * A key for what cannot be taken back: the first press asks, the second does it.
 * `asked` is kept by the screen under `state.asked`.
 */
export function twicePressed(state, ctx, { name, label, sure, run, plain = false }) {
  const asked = state.asked === name;
  return html`<button type="button" class="key ${plain && !asked ? 'plain' : ''} harm" @click=${() => {
    state.asked = asked ? null : name;
    if (asked) run();
    ctx.redraw();
  }}>${asked ? sure : label}</button>`;
}

/** Shows the first `state.shown` of a long list and a key for more, so that no screen draws hundreds of rows. */
export function firstOf(list, state, ctx, row, step = 30) {
  const shown = state.shown ?? step;
  return html`<ul class="rows">${list.slice(0, shown).map((item) => html`<li>${row(item)}</li>`)}</ul>
    ${list.length > shown ? html`<button type="button" class="key" @click=${() => { state.shown = shown + step; ctx.redraw(); }}>
      ${words.more(list.length - shown)}</button>` : nothing}`;
}

/** A group of keys of which any number may be pressed; `chosen` and what is picked are values joined by `;`. */
export function toggles(legend, name, options, chosen, pick) {
  const pressed = new Set(chosen.split(';').filter(Boolean));
  const toggle = (value) => {
    if (!pressed.delete(value)) pressed.add(value);
    pick(options.map((option) => option.value).filter((one) => pressed.has(one)).join(';'));
  };
  return html`<fieldset class="field"><legend>${legend}</legend><div class="keys">
    ${options.map((option) => html`<label class="key"><input type="checkbox" name=${name} value=${option.value} .checked=${pressed.has(option.value)}
      @change=${() => toggle(option.value)}>${option.words}</label>`)}</div></fieldset>`;
}

/** A group of keys of which one is chosen. */
export function choice(legend, name, options, chosen, pick) {
  return html`<fieldset class="field"><legend>${legend}</legend><div class="keys even">
    ${options.map((option) => html`<label class="key"><input type="radio" name=${name} .checked=${option.value === chosen}
      @change=${() => pick(option.value)} @click=${() => { if (option.value === chosen && option.clears) pick(''); }}>${option.words}</label>`)}
  </div></fieldset>`;
}
