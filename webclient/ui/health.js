// A tree's health: one figure from 0 to 100 that opens into the parts it is made of.
import { html, nothing } from 'lit-html';
import { words } from './text.js';

/**
 * The health of a tree; its parts open at a touch.
 * @param {{health: number|null, health_parts: Array<{name: string, score: number, weight: number, because: string}>}} trend
 *   scores 0-100, weights as shares of 1
 */
export function healthPart({ health, health_parts: parts = [] }) {
  if (typeof health !== 'number') return nothing;
  return html`<details class="opens" id="health"><summary><span>${words.health.title}</span>
      <strong class="figure">${Math.round(health)}</strong><span class="since">${words.health.ofHundred}</span><span class="more">${words.health.parts}</span></summary>
    <ul class="rows">${parts.map(partRow)}</ul></details>`;
}

function partRow({ name, score, weight, because }) {
  return html`<li class="entry"><p><strong>${words.health.part[name] ?? name}</strong> ${words.health.of(Math.round(score))}
    <br><span class="soft">${because} · ${words.health.counts(Math.round(100 * weight))}</span></p></li>`;
}
