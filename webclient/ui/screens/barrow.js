// The barrow: pots scanned together, to be moved or worked on at once.
import { html, nothing } from 'lit-html';
import { placeOf, varietyName } from '../cards.js';
import { icon } from '../icons.js';
import { plate } from '../plate.js';
import { twicePressed } from '../parts.js';
import { words } from '../text.js';

async function open(ctx) {
  const [cards, draft] = await Promise.all([ctx.cards.get(), ctx.drafts.get('barrow')]);
  return { cards, ids: draft?.value ?? [], asked: null };
}

async function changed(state, ctx) {
  state.cards = await ctx.cards.get();
}

async function keep(state, ctx, ids) {
  state.ids = ids;
  ctx.redraw();
  await ctx.saving(() => (ids.length ? ctx.drafts.put('barrow', ids) : ctx.drafts.drop('barrow')));
}

function view(state, ctx) {
  const { ids } = state;
  return {
    title: words.screens.barrow,
    body: ids.length ? html`<p class="figure">${words.carry.trees(ids.length)}</p>
      <ul class="rows">${ids.map((id) => row(state, ctx, id))}</ul>
      <div class="keys"><a class="key" href="#/scan/barrow">${icon('scan')}${words.barrow.more}</a>
      <a class="key" id="barrow-out" href="#/barrow/out">${icon('out')}${words.deed.out}</a>
      ${twicePressed(state, ctx, { name: 'empty', label: words.barrow.empty, sure: words.barrow.emptySure(ids.length), run: () => keep(state, ctx, []) })}</div>`
      : html`<p>${words.barrow.none}</p>`,
    dock: ids.length ? html`<a class="key" id="barrow-work" href="#/barrow/work">${icon('work')}${words.barrow.work}</a>
        <a class="key main" id="barrow-move" href="#/barrow/move">${icon('move')}${words.barrow.move}</a>`
      : html`<a class="key main" id="barrow-scan" href="#/scan/barrow">${icon('scan')}${words.barrow.scan}</a>`,
  };
}

function row(state, ctx, id) {
  const { cards, ids } = state;
  const tree = cards.trees.get(id);
  if (!tree) return nothing;
  return html`<li class="row">${plate(tree.fields.tag)}<span class="grow"><strong>${varietyName(cards, tree)}</strong>
    <span class="soft small">${placeOf(cards, tree)?.fields.place ?? ''}</span></span>
    <button type="button" class="key" aria-label=${words.barrow.remove(tree.fields.tag)} 
      @click=${() => keep(state, ctx, ids.filter((other) => other !== id))}>${icon('close')}</button></li>`;
}

export const barrowScreen = { open, view, changed };
