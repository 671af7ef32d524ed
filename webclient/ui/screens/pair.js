// Pairing: the first visit of a phone, with a code that home prints as text and as a QR.
import { html, nothing } from 'lit-html';
import { icon } from '../icons.js';
import { twicePressed } from '../parts.js';
import { words } from '../text.js';
import { installHint } from './settings.js';

async function open(ctx, { code = '' }) {
  const state = { code, name: words.pair.nameOf(navigator.userAgent), wrong: null, busy: false, hint: null };
  state.end = ctx.device.watchInstall((hint) => {
    state.hint = hint;
    ctx.redraw();
  });
  return state;
}

function close(state) {
  state?.end?.();
}

async function pair(state, ctx) {
  const code = state.code.trim().split('/').at(-1);
  if (!code || state.busy) return;
  Object.assign(state, { busy: true, wrong: null });
  ctx.redraw();
  try {
    await ctx.engine.pair(code, state.name.trim());
    await ctx.device.keepStorage();
    // Whoever is told that the phone is paired may walk out of reach at once.
    await ctx.fetchScreens();
    ctx.say(words.pair.done(ctx.sync().pairing?.collection ?? ''));
    ctx.replace('now');
  } catch (error) {
    state.wrong = error.message;
  }
  state.busy = false;
  ctx.redraw();
}

async function unpair(ctx) {
  if (await ctx.saving(async () => { await ctx.engine.unpair(); return true; })) ctx.say(words.pair.ended);
}

function view(state, ctx) {
  const { pairing, phase, pocket } = ctx.sync();
  const type = (name) => (event) => {
    state[name] = event.target.value;
    state.wrong = null;
    ctx.redraw();
  };
  return {
    title: pairing && phase !== 'revoked' ? words.pair.this : words.pair.title,
    body: html`${pairing && phase !== 'revoked' ? html`<p>${words.pair.already(pairing.collection, words.role[pairing.role])}</p>` : nothing}
      ${phase === 'revoked' ? html`<p class="wrong">${words.pair.revoked(pocket.unsent)}</p>` : nothing}
      ${state.hint?.how === 'share-menu' ? html`${installHint(state.hint)}<p class="caution" role="note">${words.pair.installFirst}</p>` : nothing}
      <p>${words.pair.how}</p>
      <form class="form" @submit=${(event) => { event.preventDefault(); pair(state, ctx); }}>
        <div class="field"><label for="pair-code">${words.pair.code}</label><input id="pair-code" class="codein" autocomplete="off" autocapitalize="characters" spellcheck="false"
          .value=${state.code} aria-invalid=${state.wrong ? 'true' : 'false'} aria-describedby="pair-wrong" @input=${type('code')}>
          <p class="wrong" id="pair-wrong" role="alert">${state.wrong ?? ''}</p></div>
        <div class="field"><label for="pair-name">${words.pair.name}</label><input id="pair-name" autocomplete="off" maxlength="120" .value=${state.name} @input=${type('name')}></div>
        <p><a class="key" href="#/scan/pair">${icon('scan')}${words.pair.scan}</a></p>
        <button class="aside" tabindex="-1" aria-hidden="true">${words.pair.key}</button></form>
      <p role="status">${state.busy && ctx.sync().progress.pulled ? words.pair.fetched(ctx.sync().progress.pulled) : nothing}</p>
      ${state.hint?.how !== 'share-menu' ? installHint(state.hint) : nothing}
      ${pairing ? html`<p>${words.pair.endHow}</p>${twicePressed(state, ctx, { name: 'end', label: words.pair.end, sure: words.pair.endSure, run: () => unpair(ctx) })}` : nothing}`,
    dock: html`<button type="button" class="key main" id="pair-key" ?disabled=${state.busy || state.code.trim() === ''} @click=${() => pair(state, ctx)}>${icon('phone')}${state.busy ? words.pair.busy : words.pair.key}</button>`,
  };
}

export const pairScreen = { open, view, close };
