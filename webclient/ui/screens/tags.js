// Printing tags: of a place, of all trees, or blank ones in advance. Home draws the sheets.
import { html, nothing } from 'lit-html';
import { options } from '../cards.js';
import { icon } from '../icons.js';
import { words } from '../text.js';

export const BLANK_MAX = 500;
/** The papers that home knows by these names. */
const PAPERS = ['a4-21', 'a4-24', 'a4-24-edge', 'a4-21-edge', 'a4-18', 'a4-16', 'a4-14', 'a4-12', 'a4-10', 'a4-8', 'a4-cut-24', 'a4-stake-18',
  'letter-14', 'letter-12', 'letter-10', 'letter-6', 'letter-cut-21', 'letter-stake-18'];

async function open(ctx) {
  const cards = await ctx.cards.get();
  return { cards, what: cards.trees.size ? 'all' : 'blank', blank: '21', paper: PAPERS[0], wrong: null, url: null, busy: false };
}

function close(state) {
  if (state?.url) URL.revokeObjectURL(state.url);
}

/** The request for the chosen tags; a wrong number of blanks is told instead. */
export function tagsPath({ what, blank, paper }) {
  const query = new URLSearchParams({ paper });
  if (what === 'blank') {
    const count = Number(blank);
    if (!Number.isInteger(count) || count < 1 || count > BLANK_MAX) return { wrong: words.tags.blankWrong(BLANK_MAX) };
    query.set('blank', String(count));
  } else if (what !== 'all') {
    query.set('place', what);
  }
  return { path: `/tags.pdf?${query}` };
}

async function make(state, ctx) {
  const { path, wrong } = tagsPath(state);
  Object.assign(state, { wrong: wrong ?? null, busy: !wrong });
  ctx.redraw();
  if (!path) return;
  try {
    const file = await ctx.home.getFile(path);
    close(state);
    state.url = URL.createObjectURL(file);
  } catch (error) {
    state.wrong = error.message;
  }
  state.busy = false;
  ctx.redraw();
}

function view(state, ctx) {
  const set = (name) => (event) => {
    close(state);
    Object.assign(state, { [name]: event.target.value, url: null, wrong: null });
    ctx.redraw();
  };
  const whats = [{ value: 'all', words: words.tags.all }, { value: 'blank', words: words.tags.blank }, ...options(state.cards.places, 'place')];
  return {
    title: words.tags.title, back: { href: '#/settings', words: words.screens.settings },
    body: html`<p>${words.tags.how}</p><form class="form" @submit=${(event) => { event.preventDefault(); make(state, ctx); }}>
      ${chooser('tags-what', words.tags.what, whats, state.what, set('what'))}
      ${state.what === 'blank' ? html`<div class="field"><label for="tags-blank">${words.tags.count}</label><input id="tags-blank" inputmode="numeric" .value=${state.blank} @input=${set('blank')}></div>` : nothing}
      ${chooser('tags-paper', words.tags.paper, PAPERS.map((value) => ({ value, words: words.tags.paperName(value) })), state.paper, set('paper'))}</form>
      <p class="soft">${words.tags.scale}</p>
      <div role="alert">${state.wrong ? html`<p class="wrong">${state.wrong}</p>` : nothing}</div>`,
    dock: state.url ? html`<a class="key" href=${state.url} target="_blank" rel="noopener">${words.tags.open}</a><a class="key main" id="tags-file" href=${state.url} download="leafwalk-tags.pdf">${icon('file')}${words.tags.download}</a>`
      : html`<button type="button" class="key main" id="make-tags" ?disabled=${state.busy} @click=${() => make(state, ctx)}>${icon('print')}${state.busy ? words.tags.making : words.tags.make}</button>`,
  };
}

function chooser(id, label, list, chosen, change) {
  return html`<div class="field"><label for=${id}>${label}</label><select id=${id} @change=${change}>
    ${list.map(({ value, words: text }) => html`<option value=${value} ?selected=${value === chosen}>${text}</option>`)}</select></div>`;
}

export const tagsScreen = { open, view, close };
