// One photo of a tree: from this phone, or fetched from home when it is only there.
import { html, nothing } from 'lit-html';
import { timeMs } from '../../core/time.js';
import { dayAndTime } from '../format.js';
import { dropLeaf, leafPart } from '../measured.js';
import { words } from '../text.js';

const WIDTH_PX = 1200;

async function open(ctx, { id }) {
  const record = await ctx.records.get('photo', id);
  if (!record) return { record: null, told: words.photo.gone };
  const { sha256 } = record.fields;
  const bytes = await ctx.photos.bytes(sha256);
  if (bytes) return { record, url: URL.createObjectURL(new Blob([bytes])), told: null };
  const state = { record, url: null, told: words.photo.fetching };
  fetchIt(state, ctx, sha256);
  return state;
}

async function fetchIt(state, ctx, sha256) {
  try {
    const file = await ctx.home.getPhoto(sha256, WIDTH_PX);
    if (!state.closed) state.url = URL.createObjectURL(file);
    state.told = null;
  } catch (error) {
    state.told = words.photo.away(error.message);
  }
  ctx.redraw();
}

function close(state) {
  state.closed = true;
  dropLeaf(state);
  if (state.url) URL.revokeObjectURL(state.url);
}

function view(state, ctx) {
  const { record, url, told } = state;
  return {
    title: words.photo.title, back: record?.fields.tree ? { href: `#/tree/${record.fields.tree}/history`, words: words.back } : null,
    body: html`${url ? html`<img class="photo" src=${url} alt=${words.photo.ofTree}>` : nothing}
      <p role="status">${told ?? nothing}</p>
      ${record ? html`<p class="soft">${dayAndTime(timeMs(record.fields.taken_at) ?? Date.now())}</p><p>${record.fields.note ?? nothing}</p>` : nothing}${leafPart(state, ctx)}`,
  };
}

export const photoScreen = { open, view, close };
