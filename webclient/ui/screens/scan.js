// The scanner: camera first, a typed code beside it, a photo as last resort. One screen, four errands.
import { html, nothing } from 'lit-html';
import { ref } from 'lit-html/directives/ref.js';
import { readTagCode, showTagCode } from '../../core/tagcode.js';
import { placeOf } from '../cards.js';
import { icon } from '../icons.js';
import { words } from '../text.js';

/** A tag that was just dealt with often stays in view; for so long it is not opened again. */
const JUST_DONE_MS = 8_000;
export const BARROW_MAX = 300;
/** Errands that take code after code. */
const GATHERS = ['barrow', 'walk'];

/** `mode`: none opens the tree; `barrow` gathers; `retag` gives a tree its new tag; `pair` reads a pairing code. */
async function open(ctx, { mode = 'open', id = null }) {
  if (mode !== 'pair' && !ERRANDS[mode]) return { redirect: 'scan' };
  const state = {
    mode, id, typed: '', told: null, wrong: null, camera: 'starting', torch: false, lit: false, barrow: [], tree: null, busy: false,
  };
  if (mode === 'barrow') state.barrow = (await ctx.drafts.get('barrow'))?.value ?? [];
  if (mode === 'walk') Object.assign(state, { walk: [], cards: await ctx.cards.get() });
  if (mode === 'retag') state.tree = await ctx.records.get('tree', id);
  state.attach = (video) => (video ? watch(state, ctx, video) : null);
  ctx.wakeLock ??= ctx.device.createWakeLock();
  ctx.wakeLock.hold();
  return state;
}

/** Starts the camera on the drawn video; what it reads goes to this screen as long as it stands. */
async function watch(state, ctx, video) {
  ctx.scanner ??= ctx.device.createScanner({ onText: (text) => ctx.onScan?.(text), onState: () => {} });
  ctx.onScan = (text) => take(state, ctx, text);
  try {
    await ctx.scanner.start(video);
    state.camera = 'looking';
    state.torch = ctx.scanner.hasTorch();
  } catch (error) {
    state.camera = words.scan.camera[error.kind] ? error.kind : 'broken';
  }
  ctx.redraw();
}

function close(state, ctx) {
  ctx.onScan = null;
  ctx.scanner?.stop();
  ctx.wakeLock?.release();
}

/** Deals with one reading, whether scanned, typed or from a photo. */
async function take(state, ctx, text) {
  if (state.busy) return;
  state.busy = true;
  ctx.redraw();
  try {
    await takeText(state, ctx, text);
  } finally {
    state.busy = false;
    ctx.redraw();
  }
}

async function takeText(state, ctx, text) {
  const pairing = /#\/pair\/([^/?#\s]+)/i.exec(text);
  if (pairing || state.mode === 'pair') return ctx.go(`pair/${encodeURIComponent(pairing?.[1] ?? text.trim())}`);
  const reading = readTagCode(text);
  if (reading.error) return tell(state, words.code[reading.error], true);
  const { code } = reading;
  if (state.mode === 'open' && isJustDone(ctx, code)) return tell(state, words.scan.justDone(showTagCode(code)));
  const found = await ctx.records.treeByTag(code);
  return ERRANDS[state.mode](state, ctx, code, found?.tree ?? null);
}

function isJustDone(ctx, code) {
  return ctx.justDone?.tag === code && Date.now() - ctx.justDone.at_ms < JUST_DONE_MS;
}

function tell(state, text, wrong = false) {
  state.told = wrong ? null : text;
  state.wrong = wrong ? text : null;
}

const ERRANDS = {
  open(state, ctx, code, tree) {
    if (tree) return ctx.go(`tree/${tree.id}`);
    if (!ctx.owner()) return tell(state, words.scan.unknownHelper(showTagCode(code)), true);
    return ctx.go(`new/${code}`);
  },

  async barrow(state, ctx, code, tree) {
    if (!tree) return tell(state, words.scan.unknown(showTagCode(code)), true);
    if (state.barrow.includes(tree.id)) return tell(state, words.scan.already(showTagCode(code)));
    if (state.barrow.length >= BARROW_MAX) return tell(state, words.scan.barrowFull(BARROW_MAX), true);
    state.barrow = [...state.barrow, tree.id];
    await ctx.drafts.put('barrow', state.barrow);
    return tell(state, words.scan.loaded(showTagCode(code)));
  },

  /** Pots of one place, in the order in which they are passed. */
  async walk(state, ctx, code, tree) {
    if (!tree) return tell(state, words.scan.unknown(showTagCode(code)), true);
    if (placeOf(state.cards, tree)?.id !== state.id) return tell(state, words.walk.away(showTagCode(code)), true);
    state.walk = [...state.walk.filter((id) => id !== tree.id), tree.id];
    await ctx.drafts.put(`walk:${state.id}`, state.walk);
    return tell(state, words.walk.scanned(state.walk.length));
  },

  async retag(state, ctx, code, tree) {
    if (tree) return tell(state, words.scan.taken(showTagCode(code)), true);
    const saved = await ctx.saving(() => ctx.records.save('tree', state.id, { tag: code }));
    if (!saved) return null;
    ctx.say(words.scan.retagged(showTagCode(code)), () => ctx.saving(() => ctx.records.saveAll(saved.undo)));
    return ctx.replace(`tree/${state.id}`);
  },
};

function view(state, ctx) {
  const errand = words.scan.errand[state.mode] ?? words.scan.errand.open;
  return {
    title: errand.title, back: backOf(state),
    body: html`${eye(state)}
      <div role="status" aria-live="polite" class="stack tight">${state.tree ? html`<p>${words.scan.retag(showTagCode(state.tree.fields.tag))}</p>` : nothing}
        ${state.mode === 'barrow' ? html`<p class="figure" id="barrow-count">${words.scan.onBarrow(state.barrow.length)}</p>` : nothing}
        ${state.told ? html`<p id="scan-told">${state.told}</p>` : nothing}${state.wrong ? html`<p class="wrong" id="scan-wrong">${state.wrong}</p>` : nothing}</div>
      ${typedForm(state, ctx, errand)}
      <div class="keys">${torchKey(state, ctx)}${photoKey(state, ctx)}</div>`,
    dock: state.mode === 'barrow' && state.barrow.length > 0
      ? html`<a class="key main" href="#/barrow">${icon('barrow')}${words.scan.toBarrow(state.barrow.length)}</a>`
      : state.mode === 'walk' && state.walk.length > 0 ? html`<a class="key main" href="#/place/${state.id}/walk">${words.walk.toList}</a>` : nothing,
  };
}

function backOf({ mode, id }) {
  if (mode === 'barrow') return { href: '#/barrow', words: words.back };
  if (mode === 'walk') return { href: `#/place/${id}/walk`, words: words.back };
  if (mode === 'retag') return { href: `#/tree/${id}`, words: words.back };
  return mode === 'pair' ? { href: '#/pair', words: words.back } : null;
}

function eye(state) {
  const blind = words.scan.camera[state.camera];
  return html`<div class="eye"><video ${ref(state.attach)} playsinline muted aria-label=${words.scan.video} ?hidden=${Boolean(blind)}></video>
    ${state.camera === 'looking' ? html`<div class="aim" aria-hidden="true"></div>` : html`<p>${blind ?? words.scan.starting}</p>`}</div>`;
}

function typedForm(state, ctx, errand) {
  const submit = async (event) => {
    event.preventDefault();
    if (state.busy) return;
    const text = state.typed;
    // The field is free for the next code at once; one that was wrong comes back to be mended, unless another is on its way.
    if (GATHERS.includes(state.mode)) state.typed = '';
    await take(state, ctx, text);
    if (state.wrong) state.typed ||= text;
    ctx.redraw();
  };
  return html`<form class="form" @submit=${submit}><div class="field">
    <label for="typed-code">${errand.label}</label>
    <div class="keys"><input id="typed-code" class="codein" autocomplete="off" autocapitalize="characters" spellcheck="false" maxlength="60"
      placeholder=${errand.placeholder} .value=${state.typed} aria-invalid=${state.wrong ? 'true' : 'false'} aria-describedby="scan-wrong"
      @input=${(event) => { state.typed = event.target.value; state.wrong = null; ctx.redraw(); }}>
    <button class="key" id="open-code" ?disabled=${state.busy || state.typed.trim() === ''}>${errand.open}</button></div></div></form>`;
}

function torchKey(state, ctx) {
  if (!state.torch) return nothing;
  return html`<button type="button" class="key" aria-pressed=${state.lit ? 'true' : 'false'} @click=${async () => {
    state.lit = await ctx.scanner.torch(!state.lit);
    ctx.redraw();
  }}>${icon('torch')}${words.scan.torch}</button>`;
}

function photoKey(state, ctx) {
  return html`<label class="key">${icon('photo')}${words.scan.photo}<input id="code-photo" type="file" accept="image/*" @change=${async (event) => {
    const [file] = event.target.files;
    event.target.value = '';
    if (file) await readPhotoFile(state, ctx, file);
  }}></label>`;
}

async function readPhotoFile(state, ctx, file) {
  tell(state, words.scan.reading);
  ctx.redraw();
  const text = await ctx.scanner.readFile(file).catch(() => null);
  if (text) return take(state, ctx, text);
  tell(state, words.scan.noCode, true);
  return ctx.redraw();
}

export const scanScreen = { open, view, close };
