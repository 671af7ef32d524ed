// The order in which one walks past a place's pots: by arrows, by dragging, or by scanning along the bench.
import { html, nothing } from 'lit-html';
import { repeat } from 'lit-html/directives/repeat.js';
import { placeOf, varietyName, walkingOrder } from '../cards.js';
import { icon } from '../icons.js';
import { plate, spaceCode } from '../plate.js';
import { words } from '../text.js';

async function open(ctx, { id }) {
  const [place, cards, scanned] = await Promise.all([ctx.records.get('place', id), ctx.cards.get(), ctx.drafts.get(`walk:${id}`)]);
  if (!place) return { redirect: 'places' };
  if (!ctx.owner()) return { redirect: `place/${id}` };
  const here = walkingOrder(cards, [...cards.trees.values()].filter((tree) => placeOf(cards, tree)?.id === id && tree.fields.standing !== 'retired'));
  // What was scanned comes first, in its order; the rest stays as it was behind it.
  const first = (scanned?.value ?? []).map((tree) => here.find((one) => one.id === tree)).filter(Boolean);
  return { id, place, cards, trees: [...first, ...here.filter((tree) => !first.includes(tree))], busy: false, dragged: null };
}

function shift(state, from, to) {
  if (to < 0 || to >= state.trees.length || from === to) return;
  const trees = [...state.trees];
  trees.splice(to, 0, ...trees.splice(from, 1));
  state.trees = trees;
}

/** The row under the finger takes the dragged one's place; near an edge of the screen the page moves on. */
function drag(state, ctx, tree) {
  return {
    down(event) {
      event.preventDefault();
      event.currentTarget.setPointerCapture(event.pointerId);
      state.dragged = tree.id;
      ctx.redraw();
    },
    move(event) {
      if (state.dragged !== tree.id) return;
      const edge = 90;
      if (event.clientY < edge) scrollBy(0, -12);
      else if (event.clientY > innerHeight - 2 * edge) scrollBy(0, 12);
      const row = document.elementsFromPoint(event.clientX, event.clientY).map((one) => one.closest?.('[data-tree]')).find(Boolean);
      if (!row || row.dataset.tree === tree.id) return;
      shift(state, state.trees.findIndex((one) => one.id === tree.id), state.trees.findIndex((one) => one.id === row.dataset.tree));
      ctx.redraw();
    },
    up() {
      state.dragged = null;
      ctx.redraw();
    },
  };
}

async function save(state, ctx) {
  if (state.busy) return;
  state.busy = true;
  const here = ctx.path();
  const saved = await ctx.saving(() => ctx.records.save('place', state.id, { walk: state.trees.map((tree) => tree.id) }));
  state.busy = false;
  if (!saved) return;
  await ctx.keeper.drop(`walk:${state.id}`);
  ctx.say(words.walk.saved, () => ctx.saving(() => ctx.records.saveAll(saved.undo)));
  ctx.goOn(here, `place/${state.id}`);
}

function view(state, ctx) {
  const { id, place, trees, cards } = state;
  return {
    title: words.walk.title, back: { href: `#/place/${id}`, words: place.fields.place },
    body: trees.length ? html`<p class="how">${words.walk.how}</p><p><a class="key" href="#/scan/walk/${id}">${icon('scan')}${words.walk.scan}</a></p>
      <ol class="rows walk">${repeat(trees, (tree) => tree.id, (tree, at) => row(state, ctx, tree, at, cards))}</ol>` : html`<p>${words.walk.none}</p>`,
    dock: trees.length ? html`<button type="button" class="key main" id="save-walk" ?disabled=${state.busy} @click=${() => save(state, ctx)}>${icon('check')}${words.walk.save}</button>` : nothing,
  };
}

function row(state, ctx, tree, at, cards) {
  const hand = drag(state, ctx, tree);
  const code = spaceCode(tree.fields.tag);
  const key = (label, to, turn) => html`<button type="button" class="key ${turn}" aria-label=${label} ?disabled=${to < 0 || to >= state.trees.length}
    @click=${() => { shift(state, at, to); ctx.redraw(); }}>${icon('back')}</button>`;
  return html`<li class="row ${state.dragged === tree.id ? 'dragged' : ''}" data-tree=${tree.id}>
    <span class="handle" @pointerdown=${hand.down} @pointermove=${hand.move} @pointerup=${hand.up} @pointercancel=${hand.up}>${plate(tree.fields.tag)}</span>
    <span class="grow">${varietyName(cards, tree)}</span>${key(words.walk.up(code), at - 1, 'up')}${key(words.walk.down(code), at + 1, 'down')}</li>`;
}

export const walkScreen = { open, view };
