// A tree's fruit against its leaves: how many to take off, brebas first, or what to count before that can be said.
import { html, nothing } from 'lit-html';
import { caution } from './parts.js';
import { words } from './text.js';

/** What home says of this tree's crop; null when it bears nothing, or home says nothing of it. */
export function cropOf(overview, tree) {
  const tags = new Set([tree.fields.tag, ...(tree.fields.former_tags ?? [])]);
  return overview?.document?.crop?.find((crop) => tags.has(crop.tag)) ?? null;
}

/**
 * How many fruits to take off, in words; '' when none. Brebas come first.
 * @param {object} crop an item of home's crop report
 */
export function takeText(crop) {
  const parts = ['breba', 'main'].filter((name) => crop[`remove_${name}`] > 0)
    .map((name) => words.crop.take[name](crop[`remove_${name}`], crop[`remove_${name}_low`], crop[`remove_${name}_high`]));
  return parts.length ? words.crop.takeOff(parts) : '';
}

/** The crop on a tree's card: the line to act on stands open, what it rests on opens at a touch. */
export function cropPart(crop) {
  if (!crop) return nothing;
  const take = takeText(crop);
  return html`<section class="stack" id="crop"><details class="opens"><summary><span>${words.crop.title}</span>
      <strong>${figure(crop)}</strong><span class="more">${crop.surplus === null ? words.crop.whatToCount : words.crop.why}</span></summary>
      ${crop.why.map((sentence) => html`<p>${sentence}</p>`)}</details>
    ${take ? html`<p><strong>${take}</strong></p>` : nothing}
    ${crop.surplus > 0 && !take ? html`<p>${words.crop.countAgain}</p>` : nothing}
    ${crop.surplus > 0 ? caution(words.caution[crop.caution]) : nothing}</section>`;
}

/** Leaves for each fruit with its interval; where it was not counted, that. */
function figure({ surplus, leaves_per_fruit: each, low, high }) {
  if (surplus === null || each === null) return words.crop.notKnown;
  return words.crop.leavesEach(share(low), share(high));
}

/** A tenth matters where leaves are few for each fruit, and not where there are plenty. */
function share(leaves) {
  return Number(leaves.toFixed(leaves < 10 ? 1 : 0));
}
