// What stands around every screen: head, dock, slip, and the strip with index, pocket and scan key.
import { html, nothing } from 'lit-html';
import { ageWords } from './format.js';
import { icon } from './icons.js';
import { words } from './text.js';

/** The screens that the index lists, with their icons. */
export const INDEX = ['now', 'jobs', 'round', 'barrow', 'trees', 'places', 'shelters', 'season', 'pocket', 'settings'];
const ICONS = { now: 'now', round: 'round', barrow: 'barrow', trees: 'tree', places: 'place', pocket: 'pocket', settings: 'settings', shelters: 'shelters', season: 'season', jobs: 'check' };

/**
 * @param {{title: string, heading?: unknown, back?: {href: string, words: string}|null, body: unknown, dock?: unknown,
 *   low?: boolean, path: string, screen: string, sync: object, slip: object|null, update: Function|null}} app
 */
export function frame(app) {
  const lead = !app.dock || app.dock === nothing;
  return html`<div class="frame">
    ${notices(app)}
    <header class="head">
      ${app.back ? html`<a class="back" href=${app.back.href}>${icon('back')}${app.back.words}</a>` : nothing}
      <h1 tabindex="-1">${app.heading ?? app.title}</h1>
    </header>
    <main id="main" class="page ${app.low ? 'low' : ''}" tabindex="-1">${app.body}</main>
    <footer class="bench">
      <div role="status" id="slip">${app.slip ? slip(app.slip) : nothing}</div>
      ${lead ? nothing : html`<div class="dock">${app.dock}</div>`}
      ${strip(app, lead)}
    </footer>
  </div>`;
}

function slip({ text, undo, close }) {
  return html`<div class="slip fresh"><p>${text}</p>
    ${undo ? html`<button type="button" class="key" id="undo" @click=${undo}>${words.undo}</button>` : nothing}
    <button type="button" class="key" aria-label=${words.close} @click=${close}>${icon('close')}</button></div>`;
}

function strip(app, lead) {
  const scanning = app.screen === 'scan';
  return html`<nav class="strip" aria-label=${words.strip}>
    <a class="key to-index" href="#/index" aria-current=${app.screen === 'index' ? 'page' : nothing}>${words.screens.index}</a>
    ${pocketLine(app.sync)}
    <div class="side">${indexRows(app)}</div>
    <a class="hang ${lead && !scanning ? 'lead' : ''}" id="scan-key" href="#/scan" aria-current=${scanning ? 'page' : nothing}>
      <span class="hole" aria-hidden="true"></span>${icon('scan')}${words.screens.scan}</a>
  </nav>`;
}

/** How many entries and photos are not home yet, how many of them home refused, and how old the oldest is. */
function pocketLine(sync) {
  const { pocket } = sync;
  const kind = pocket.parked + pocket.photos_refused > 0 ? 'refused' : pocket.oldest_at_ms ? 'held' : '';
  const age = pocket.oldest_at_ms ? words.pocketLine.oldest(ageWords(pocket.oldest_at_ms)) : '';
  const contact = sync.last_contact_ms ? ageWords(sync.last_contact_ms) : words.pocketLine.never;
  return html`<a class="pocket ${kind}" id="pocket-line" href="#/pocket">
    <strong>${words.pocketLine.held(pocket)}</strong>
    <small>${age || (sync.phase === 'syncing' ? words.phase.syncing : contact)}</small></a>`;
}

/** The rows of the index, for its own screen and for the side of a wide one. */
export function indexRows(app) {
  return html`<ul class="rows index">${INDEX.map((name) => html`<li><a class="row" href="#/${name}"
    aria-current=${app.screen === name ? 'page' : nothing}>${icon(ICONS[name])}<span class="grow">${words.screens[name]}</span>
    <span class="end soft small">${app.counts?.[name] ?? ''}</span></a></li>`)}</ul>`;
}

function notices({ sync, update, closed }) {
  return html`${closed ? notice(words.notice[closed], html`<button type="button" class="key" @click=${() => location.reload()}>${words.notice.reload}</button>`) : nothing}
    ${sync.phase === 'revoked' ? notice(words.notice.revoked, html`<a class="key" href="#/pair">${words.pair.again}</a>`) : nothing}
    ${update ? notice(words.notice.update, html`<button type="button" class="key" id="use-update" @click=${update}>${words.notice.use}</button>`) : nothing}`;
}

function notice(text, key) {
  return html`<div class="notice" role="region" aria-label=${words.notice.label}><p>${text}</p>${key}</div>`;
}
