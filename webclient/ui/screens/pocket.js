// The pocket: entries made on this phone that are not home yet, refusals to mend, and a way to take them out as a file.
import { html, nothing } from 'lit-html';
import { dateText } from '../../core/time.js';
import { ageWords, dayAndTime } from '../format.js';
import { icon } from '../icons.js';
import { saveFile } from '../papers.js';
import { firstOf } from '../parts.js';
import { spaceCode } from '../plate.js';
import { words } from '../text.js';

const LISTED_MAX = 200;

async function open(ctx) {
  const state = {};
  await load(state, ctx);
  return state;
}

async function load(state, ctx) {
  const [list, parked, refused, storage, cards] = await Promise.all([
    ctx.outbox.list(LISTED_MAX), ctx.outbox.parked(LISTED_MAX), ctx.photos.refused(), ctx.device.storageState(), ctx.cards.get()]);
  Object.assign(state, { list, parked, refused, storage, cards, facts: await treesOf(ctx, [...list, ...parked.map((one) => one.change)]) });
}

/** The tree of each change: named by the change, or by the record that it edits. */
async function treesOf(ctx, changes) {
  const entries = await Promise.all(changes.map(async (change) => {
    if (change.kind === 'tree') return [change.id, change.record];
    return [change.id, change.set.tree ?? (await ctx.records.get(change.kind, change.record))?.fields.tree ?? null];
  }));
  return new Map(entries);
}

/** One change in words: what it is, and of which tree. */
export function changeTitle(change, treeId, cards) {
  const tag = cards.trees.get(treeId)?.fields.tag ?? change.set.tag;
  const name = tag ? spaceCode(tag) : (change.set.place && cards.places.get(change.set.place)?.fields.place) || change.set[change.kind];
  const what = change.set.voided ? words.pocket.withdrawn(words.kind[change.kind]) : words.kind[change.kind];
  return name ? `${what}, ${name}` : what;
}

async function exportFile(ctx) {
  const file = await ctx.saving(() => ctx.outbox.exportPocket());
  if (!file) return;
  saveFile(new Blob([file.text], { type: 'application/json' }), `leafwalk-pocket-${dateText()}.json`);
  ctx.say(words.pocket.exported(file.left_out));
}

async function syncNow(state, ctx) {
  state.busy = true;
  ctx.redraw();
  await ctx.engine.syncNow();
  state.busy = false;
  ctx.redraw();
}

function view(state, ctx) {
  const sync = ctx.sync();
  const { pocket } = sync;
  return {
    title: words.screens.pocket,
    body: html`<p class="figure" id="unsent-count">${words.pocket.unsent(pocket)}</p>
      ${situation(sync)}
      ${refusals(state)}
      <div class="two">${unsent(state, ctx, pocket)}
      <section class="stack"><h2>${words.pocket.keep}</h2>${storage(state, ctx)}</section></div>`,
    dock: sync.phase === 'unpaired' || sync.phase === 'revoked'
      ? html`<a class="key main" href="#/pair">${icon('phone')}${words.pair.title}</a>`
      : html`<button type="button" class="key main" id="sync-now" ?disabled=${state.busy} @click=${() => syncNow(state, ctx)}>${icon('pocket')}${state.busy ? words.phase.syncing : words.pocket.syncNow}</button>`,
  };
}

function situation({ phase, problem, pocket, last_contact_ms: contact, next_try_ms: next, pairing }) {
  const said = problem?.detail ?? problem?.title;
  return html`<div class="stack tight" id="sync-state" role="status"><p>${words.phase[phase]}</p>
    ${phase === 'trouble' && said ? html`<p class="wrong">${said}</p>` : nothing}
    ${pocket.oldest_at_ms ? html`<p>${words.pocket.oldest(ageWords(pocket.oldest_at_ms))}</p>` : nothing}
    ${pocket.photos_waiting ? html`<p>${words.pocket.photos(pocket.photos_waiting)}</p>` : nothing}
    <p class="soft">${contact ? words.pocket.contact(dayAndTime(contact)) : words.pocketLine.never}
      ${next && next > Date.now() ? words.pocket.next(dayAndTime(next)) : nothing}</p>
    ${pairing ? html`<p class="soft">${words.pocket.pairedAs(pairing.collection, words.role[pairing.role])}</p>` : nothing}</div>`;
}

function refusals({ parked, refused, facts, cards }) {
  if (parked.length + refused.length === 0) return nothing;
  const row = (id, title, problem) => html`<li><a class="row" href="#/pocket/${id}"><span class="grow"><strong>${title}</strong>
    <span class="small">${problem?.detail ?? problem?.title}</span></span><span class="end">${words.pocket.mend}</span></a></li>`;
  return html`<section class="stack tight"><h2 class="wrong">${words.pocket.refused(parked.length + refused.length)}</h2><p>${words.pocket.refusedHint}</p>
    <ul class="rows">${parked.map((one) => row(one.id, changeTitle(one.change, facts.get(one.change.id), cards), one.problem))}
    ${refused.map((photo) => row(`photo-${photo.sha256}`, words.kind.photo, photo.problem))}</ul></section>`;
}

function unsent(state, ctx, pocket) {
  const { list, facts, cards } = state;
  if (list.length === 0 && pocket.oldest_at_ms) return nothing;
  return html`<section class="stack tight"><h2>${words.pocket.list}</h2>
    ${list.length ? firstOf(list, state, ctx, (change) => html`<div class="between"><span>${changeTitle(change, facts.get(change.id), cards)}</span>
      <span class="soft small">${ageWords(change.saved_at_ms)}</span></div>`, 15) : html`<p class="soft">${words.pocket.empty}</p>`}
    ${pocket.unsent > list.length ? html`<p class="soft">${words.pocket.further(pocket.unsent - list.length)}</p>` : nothing}</section>`;
}

function storage({ storage: kept }, ctx) {
  const mega = (bytes) => Math.round(bytes / 1e6);
  return html`<p>${words.pocket.storage(kept.persisted)}</p>
    ${kept.used_bytes != null ? html`<p class="soft">${words.pocket.room(mega(kept.used_bytes), kept.free_bytes == null ? null : mega(kept.free_bytes))}</p>` : nothing}
    <div class="keys">${kept.persisted === false ? html`<button type="button" class="key" id="keep-storage" @click=${async () => {
      await ctx.device.keepStorage();
      ctx.say(words.pocket.asked);
      ctx.replace('pocket');
    }}>${words.pocket.askKeep}</button>` : nothing}
    <button type="button" class="key" id="export-pocket" @click=${() => exportFile(ctx)}>${icon('file')}${words.pocket.export}</button></div>`;
}

export const pocketScreen = { open, view, changed: load };
