// A picture to show others: of a tree, a round or the season, from the grower's own choice of photos and plots.
import { html, nothing } from 'lit-html';
import { COVERS, wordsFor } from '../../core/vocabularies.js';
import { askHome } from '../asked.js';
import { varietyName } from '../cards.js';
import { shortDay } from '../format.js';
import { icon } from '../icons.js';
import { words } from '../text.js';
import { measuresOf } from './life.js';
import { fallenAndMoved } from './rounddone.js';

const PHOTOS_MAX = 6;
const LISTED_MAX = 60;
const STEP = 12;
const ENTRIES_MAX = 2000;
const ROWS_MAX = 15;
const TITLE_LENGTH_MAX = 100;
const CAPTION_LENGTH_MAX = 600;
const THUMB_PX = 320;
const PICTURE_PX = 1600;

async function open(ctx, { of, id = '' }) {
  const source = await SOURCES[of]?.(ctx, id);
  if (!source) return { redirect: 'index' };
  const key = `show:${of}:${id}`;
  const kept = (await ctx.drafts.get(key))?.value ?? {};
  const state = { key, back: BACK[of](id), thumbs: new Map(), shown: STEP, busy: false, told: '', url: null, file: null, closed: false, source,
    chosen: { title: source.title, caption: '', dates: true, photos: [], plots: [], ...kept } };
  source.ask?.(state);
  fetchThumbs(state, ctx);
  return state;
}

const BACK = { tree: (id) => `tree/${id}/life`, round: (id) => `round/${id}`, season: () => 'season' };

/** What may be chosen from: a title to begin with, photos with the newest first, plots by key, and facts as lines. */
const SOURCES = {
  async tree(ctx, id) {
    const [tree, history, places, cards] = await Promise.all([ctx.records.get('tree', id), ctx.records.history(id, ENTRIES_MAX), ctx.records.list('place'), ctx.cards.get()]);
    if (!tree) return null;
    const known = { places: new Map(places.map((place) => [place.id, place])), home: null };
    const plotsOf = () => measuresOf(known, history, ctx.units).filter(({ points }) => points.length).map((series) => ({ key: series.name, ...series }));
    return {
      title: varietyName(cards, tree), photos: history.filter(({ kind }) => kind === 'photo'), plots: plotsOf(), lines: [],
      ask: (state) => askHome(ctx, `/trees/${id}`, (answer) => {
        known.home = answer;
        state.source.plots = plotsOf();
      }),
    };
  },
  async round(ctx, id) {
    const [round, { observations, moves }] = await Promise.all([ctx.records.get('round', id), ctx.records.ofRound(id)]);
    if (!round) return null;
    const seen = new Set(observations.map(({ fields }) => fields.tree)).size;
    const lines = [words.roundDone.seen(seen), ...fallenAndMoved(observations, moves)];
    const visits = new Set(observations.map((visit) => visit.id));
    return { title: words.show.round(shortDay(round.at_ms)), photos: await photosOf(ctx, ({ observation }) => visits.has(observation)), plots: [], lines };
  },
  async season(ctx) {
    return {
      title: words.show.season(new Date().getFullYear()), photos: await photosOf(ctx, () => true), plots: [], lines: [],
      ask: (state) => askHome(ctx, '/reports/season', ({ document }) => {
        state.source.plots = document ? ranksOf(document) : [];
      }),
    };
  },
};

/** The photos whose fields fit, the newest first. */
async function photosOf(ctx, fits) {
  return (await ctx.records.list('photo')).filter(({ fields }) => fits(fields)).sort((a, b) => b.at_ms - a.at_ms);
}

/** A plot of ranks for each species that has more than one variety. */
function ranksOf({ items }) {
  return [...new Set(items.map(({ species }) => species))].map((species) => {
    const own = items.filter((item) => item.species === species).sort((a, b) => a.rank - b.rank);
    const rows = own.slice(0, ROWS_MAX).map((item) => ({ label: words.season.under(item.variety, wordsFor(COVERS, item.shelter)), value: item.rank, low: item.rank_low, high: item.rank_high }));
    return { key: `rank:${species}`, name: words.show.ranks(own[0].species_words ?? species), most: own[0].of, rows };
  }).filter(({ rows }) => rows.length > 1);
}

/** Small copies, from home where it answers, else what this phone still has. */
async function fetchThumbs(state, ctx) {
  for (const { id, fields } of state.source.photos.slice(0, state.shown)) {
    if (state.thumbs.has(id)) continue;
    state.thumbs.set(id, null);
    const file = await photoFile(ctx, fields.sha256, THUMB_PX).catch(() => null);
    if (state.closed) return;
    if (file) state.thumbs.set(id, URL.createObjectURL(file));
    ctx.redraw();
  }
}

async function photoFile(ctx, sha256, width_px) {
  return ctx.home.getPhoto(sha256, width_px).catch(async (error) => {
    const bytes = await ctx.photos.bytes(sha256);
    if (!bytes) throw error;
    return new Blob([bytes]);
  });
}

function choose(state, ctx, values) {
  Object.assign(state.chosen, values);
  ctx.keeper.keep(state.key, state.chosen);
  drop(state);
  ctx.redraw();
}

function drop(state) {
  if (state.url) URL.revokeObjectURL(state.url);
  Object.assign(state, { url: null, file: null, told: '' });
}

async function make(state, ctx) {
  if (state.busy) return;
  drop(state);
  state.busy = true;
  ctx.redraw();
  try {
    const { chosen: { title, caption, dates, photos, plots }, source } = state;
    const files = await Promise.all(source.photos.filter(({ id }) => photos.includes(id)).toReversed()
      .map(async ({ at_ms: at, fields }) => ({ file: await photoFile(ctx, fields.sha256, PICTURE_PX), below: dates ? shortDay(at) : '' })));
    const { drawPicture } = await import('../showing.js');
    const blob = await drawPicture({ title, caption, photos: files, plots: source.plots.filter(({ key }) => plots.includes(key)), lines: source.lines.filter((line) => plots.includes(line)) });
    if (state.closed) return;
    state.file = new File([blob], words.show.file, { type: blob.type });
    state.url = URL.createObjectURL(state.file);
  } catch (error) {
    state.told = words.show.failed(error.message);
  } finally {
    state.busy = false;
    ctx.redraw();
  }
}

function view(state, ctx) {
  const { chosen, source, url, file, busy, told } = state;
  const full = chosen.photos.length >= PHOTOS_MAX;
  const flip = (name, value) => choose(state, ctx, { [name]: chosen[name].includes(value) ? chosen[name].filter((one) => one !== value) : [...chosen[name], value] });
  const plots = [...source.plots.map(({ key, name }) => [key, name]), ...source.lines.map((line) => [line, line])];
  const ticked = (on, flipped, text, off = false) => html`<span class="tick"><input type="checkbox" .checked=${on} ?disabled=${off} @change=${flipped}><span class="grow">${text}</span></span>`;
  const tick = (...told) => html`<label>${ticked(...told)}</label>`;
  return {
    title: words.show.title, back: { href: `#/${state.back}`, words: words.back },
    body: html`<p>${words.show.how}</p>
      <div class="field"><label for="show-title">${words.show.heading}</label><input id="show-title" maxlength=${TITLE_LENGTH_MAX} .value=${chosen.title} @input=${(event) => choose(state, ctx, { title: event.target.value })}></div>
      <div class="field"><label for="show-caption">${words.show.caption}</label><textarea id="show-caption" maxlength=${CAPTION_LENGTH_MAX} .value=${chosen.caption} @input=${(event) => choose(state, ctx, { caption: event.target.value })}></textarea></div>
      ${source.photos.length ? html`<fieldset class="field" id="show-photos"><legend>${words.show.photos(PHOTOS_MAX)}</legend><ul class="pictures">${source.photos.slice(0, Math.min(state.shown, LISTED_MAX)).map((photo) => {
        const picked = chosen.photos.includes(photo.id);
        return html`<li><label>${state.thumbs.get(photo.id) ? html`<img src=${state.thumbs.get(photo.id)} alt="">` : nothing}${ticked(picked, () => flip('photos', photo.id), shortDay(photo.at_ms), full && !picked)}</label></li>`;
      })}</ul>${source.photos.length > state.shown && state.shown < LISTED_MAX ? html`<button type="button" class="key" @click=${() => { state.shown += STEP; fetchThumbs(state, ctx); ctx.redraw(); }}>${words.more(source.photos.length - state.shown)}</button>` : nothing}
        ${tick(chosen.dates, () => choose(state, ctx, { dates: !chosen.dates }), words.show.dates)}</fieldset>` : html`<p>${words.show.noPhoto}</p>`}
      ${plots.length ? html`<fieldset class="field" id="show-plots"><legend>${words.show.plots}</legend>${plots.map(([key, text]) => tick(chosen.plots.includes(key), () => flip('plots', key), text))}</fieldset>` : nothing}
      <p role="status">${busy ? words.show.making : told}</p>
      ${url ? html`<section class="stack tight" id="shown"><h2>${words.show.made}</h2><img class="whole" src=${url} alt=${words.show.alt(chosen.title)}>
        <p class="keys"><a class="key" id="save-picture" href=${url} download=${file.name}>${icon('file')}${words.show.save}</a>
        ${navigator.canShare?.({ files: [file] }) ? html`<button type="button" class="key" @click=${() => share(state, ctx)}>${icon('on')}${words.show.share}</button>` : nothing}</p></section>` : nothing}`,
    dock: url ? nothing : html`<button type="button" class="key main" id="make-picture" ?disabled=${busy || !(chosen.title.trim() || chosen.photos.length || chosen.plots.length)} @click=${() => make(state, ctx)}>${icon('photo')}${words.show.make}</button>`,
  };
}

async function share({ file }, ctx) {
  // Closing the sheet without choosing anybody is no failure.
  await navigator.share({ files: [file] }).catch((error) => { if (error.name !== 'AbortError') ctx.say(words.show.failed(error.message)); });
}

function close(state) {
  if (!state?.thumbs) return;
  state.closed = true;
  drop(state);
  for (const url of state.thumbs.values()) if (url) URL.revokeObjectURL(url);
}

async function changed() {}

export const showScreen = { open, view, changed, close };
