// A tree's whole past, newest first; a mistaken entry can be taken back from here.
import { html, nothing } from 'lit-html';
import { showTagCode } from '../../core/tagcode.js';
import { askHome } from '../asked.js';
import { treeChart, historyRows } from '../history.js';
import { twicePressed } from '../parts.js';
import { plate } from '../plate.js';
import { words } from '../text.js';

const STEP = 40;

async function open(ctx, { id }) {
  const tree = await ctx.records.get('tree', id);
  if (!tree) return { redirect: 'trees' };
  const state = { tree, limit: STEP, asked: null };
  await load(state, ctx);
  askHome(ctx, `/trees/${id}`, ({ document }) => { state.by = document?.recorded_by; });
  return state;
}

async function load(state, ctx) {
  const [history, places] = await Promise.all([ctx.records.history(state.tree.id, state.limit + 1), ctx.records.list('place')]);
  Object.assign(state, { history, places: new Map(places.map((place) => [place.id, place])) });
}

async function changed(state, ctx) {
  await load(state, ctx);
}

async function withdraw(entry, ctx) {
  const saved = await ctx.saving(() => ctx.records.save(entry.kind, entry.id, { voided: true }));
  if (saved) ctx.say(words.history.withdrawn, () => ctx.saving(() => ctx.records.saveAll(saved.undo)));
}

function view(state, ctx) {
  const { tree, history, limit } = state;
  const key = (entry) => html`${entry.kind === 'photo' ? nothing : html`<a class="key plain" href="#/edit/${entry.kind}/${entry.id}">${words.history.correct}</a>`}${takeBack(entry)}`;
  const takeBack = (entry) => twicePressed(state, ctx, { name: entry.id, plain: true, label: words.history.withdraw, sure: words.history.withdrawSure, run: () => withdraw(entry, ctx) });
  return {
    title: words.history.title(showTagCode(tree.fields.tag)), heading: plate(tree.fields.tag, 'big'), back: { href: `#/tree/${tree.id}`, words: words.back },
    body: html`<h2>${words.tree.history}</h2>${treeChart(history, state.places)}
      ${historyRows(history.slice(0, limit), state.places, ctx, key, state.by)}
      ${history.length > limit ? html`<button type="button" class="key" @click=${async () => {
        state.limit += STEP;
        await load(state, ctx);
        ctx.redraw();
      }}>${words.history.more}</button>` : nothing}`,
  };
}

export const visitsScreen = { open, view, changed };
