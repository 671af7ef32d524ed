// All trees: found by code, variety, place or standing. With a code, the choice of the tree that gets it as a new tag.
import { html, nothing } from 'lit-html';
import { readTagCode, showTagCode } from '../../core/tagcode.js';
import { formatQuantity } from '../../core/units.js';
import { STANDINGS, wordsFor } from '../../core/vocabularies.js';
import { placeOf, potOf, varietyName, walkingOrder } from '../cards.js';
import { ageWords } from '../format.js';
import { beginning, choice, firstOf, treeRow } from '../parts.js';
import { words } from '../text.js';

async function open(ctx, { code = null }) {
  if (code && readTagCode(code).error) return { redirect: 'trees' };
  const kept = ctx.treeSearch ?? { text: '', standing: 'grown' };
  const state = { code: code && readTagCode(code).code, ...kept, shown: undefined };
  await load(state, ctx);
  return state;
}

async function load(state, ctx) {
  state.cards = await ctx.cards.get();
  state.lines = walkingOrder(state.cards, [...state.cards.trees.values()]).map((tree) => lineOf(state.cards, tree, ctx));
}

async function changed(state, ctx, event) {
  if (event.topic === 'saved' || event.topic === 'pulled') await load(state, ctx);
}

function lineOf(cards, tree, ctx) {
  const place = placeOf(cards, tree)?.fields.place ?? '';
  const pot = potOf(cards, tree);
  const { tag, standing, position = '', former_tags: former = [] } = tree.fields;
  const variety = varietyName(cards, tree);
  const seen = cards.latest.get(tree.id)?.seen_at_ms;
  return {
    tree, variety, end: seen ? ageWords(seen) : words.tree.unseen,
    below: [place, position && words.tree.position(position), pot && formatQuantity('volume', pot, ctx.units), standing && standing !== 'keeper' && wordsFor(STANDINGS, standing)].filter(Boolean).join(' · '),
    haystack: [tag, showTagCode(tag), ...former, variety, place].join(' ').toLowerCase(),
  };
}

/** The lines that hold every word of the search. */
export function matching(lines, text, standing) {
  const parts = text.toLowerCase().split(/\s+/).filter(Boolean);
  return lines.filter((line) => {
    const own = line.tree.fields.standing;
    const stands = standing === 'all' || (standing === 'grown' ? own !== 'retired' : own === standing);
    return stands && parts.every((part) => line.haystack.includes(part));
  });
}

function view(state, ctx) {
  const { lines, text, standing, code } = state;
  if (!lines.length) return { title: words.screens.trees, body: beginning(ctx, state.cards.places.size) };
  const found = matching(lines, text, standing);
  const set = (values) => {
    Object.assign(state, values, { shown: undefined });
    ctx.treeSearch = { text: state.text, standing: state.standing };
    ctx.redraw();
  };
  return {
    title: code ? words.trees.pick(showTagCode(code)) : words.screens.trees,
    body: html`<div class="field"><label for="find-tree">${words.trees.find}</label><input id="find-tree" type="search" autocomplete="off"
        .value=${text} @input=${(event) => set({ text: event.target.value })}></div>
      ${choice(words.field.standing, 'standing', [{ value: 'grown', words: words.trees.grown }, ...STANDINGS, { value: 'all', words: words.trees.all }], standing, (value) => set({ standing: value }))}
      <p class="soft" role="status">${words.trees.count(found.length)}</p>
      ${code ? html`<p>${words.trees.pickHint(showTagCode(code))}</p>` : nothing}
      ${firstOf(found, state, ctx, (line) => (code ? pickRow(state, ctx, line) : treeRow(line.tree, line)), 40)}`,
  };
}

function pickRow(state, ctx, line) {
  const give = async () => {
    const saved = await ctx.saving(() => ctx.records.save('tree', line.tree.id, { tag: state.code }));
    if (!saved) return;
    ctx.say(words.scan.retagged(showTagCode(state.code)), () => ctx.saving(() => ctx.records.saveAll(saved.undo)));
    ctx.go(`tree/${line.tree.id}`);
  };
  return html`<button type="button" class="row" @click=${give}><span class="grow"><strong>${showTagCode(line.tree.fields.tag)} ${line.variety}</strong>
    <span class="soft small">${line.below}</span></span></button>`;
}

export const treesScreen = { open, view, changed };
