// What this phone's owner chooses: units, theme, installing, and the ways to the less used screens.
import { html, nothing } from 'lit-html';
import { icon } from '../icons.js';
import { LANGUAGES } from '../language.js';
import { choice } from '../parts.js';
import { words } from '../text.js';

async function open(ctx) {
  const state = { hint: null };
  state.end = ctx.device.watchInstall((hint) => {
    state.hint = hint;
    ctx.redraw();
  });
  return state;
}

function close(state) {
  state?.end?.();
}

async function chooseUnit(ctx, quantity, unit) {
  ctx.units = { ...ctx.units, [quantity]: unit };
  await ctx.saving(() => ctx.settings.set({ units: ctx.units }));
  ctx.redraw();
  // What home says has units in it.
  ctx.engine.syncNow();
}

async function chooseTheme(ctx, theme) {
  ctx.theme = theme;
  ctx.showTheme(theme);
  await ctx.saving(() => ctx.settings.set({ theme }));
  ctx.redraw();
}

/** The words are laid down when the app starts, so it starts anew; nothing is open on this screen that could be lost. */
async function chooseLanguage(ctx, language) {
  if (await ctx.saving(async () => { await ctx.settings.set({ language }); return true; })) location.reload();
}

function view(state, ctx) {
  const unit = (quantity, units) => choice(words.settings[quantity], quantity, units.map((value) => ({ value, words: words.unit[value] })),
    ctx.units[quantity], (value) => chooseUnit(ctx, quantity, value));
  return {
    title: words.screens.settings,
    body: html`<div class="two"><div class="stack">${unit('length', ['cm', 'in'])}${unit('volume', ['l', 'gal'])}${unit('temperature', ['C', 'F'])}
      ${choice(words.settings.theme, 'theme', ['auto', 'light', 'dark'].map((value) => ({ value, words: words.theme[value] })), ctx.theme, (value) => chooseTheme(ctx, value))}
      ${choice(words.settings.language, 'language', [{ value: 'auto', words: words.theme.auto }, ...LANGUAGES], ctx.language, (value) => chooseLanguage(ctx, value))}</div>
      <div class="stack">${installHint(state.hint)}<ul class="rows">
      ${ctx.owner() ? html`${link('tags', 'print', words.tags.title)}${link('varieties', 'tree', words.variety.title)}${link('species', 'harvest', words.species.title)}${link('home', 'phone', words.home.title)}` : nothing}${link('pair', 'phone', words.pair.this)}</ul></div></div>`,
  };
}

function link(path, name, label) {
  return html`<li><a class="row" href="#/${path}">${icon(name)}<span class="grow">${label}</span>${icon('on')}</a></li>`;
}

/** How to put Leafwalk on the home screen, in the way that this phone has. */
export function installHint(hint) {
  if (!hint || hint.how === 'installed') return nothing;
  return html`<section class="sheet" id="install-hint"><h2>${words.install.title}</h2><p>${words.install[hint.how]}</p>
    ${hint.prompt ? html`<button type="button" class="key" @click=${() => hint.prompt()}>${words.install.key}</button>` : nothing}</section>`;
}

export const settingsScreen = { open, view, close };
