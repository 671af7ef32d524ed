// For the owner: the collection's name, the phones that are paired, and letting another one in. Needs home in reach.
import { html, nothing } from 'lit-html';
import { timeMs } from '../../core/time.js';
import { ageWords, dayAndTime } from '../format.js';
import { icon } from '../icons.js';
import { choice, twicePressed } from '../parts.js';
import { words } from '../text.js';

async function open(ctx) {
  const state = { settings: null, devices: [], invitation: null, role: 'helper', asked: null, wrong: null, name: '' };
  await asking(state, ctx, async () => {
    const [settings, devices] = await Promise.all([ctx.home.getJson('/settings'), ctx.home.getJson('/devices')]);
    Object.assign(state, { settings, devices: devices.devices, name: settings.collection });
  });
  return state;
}

/** Runs a request; what goes wrong is shown in place. */
async function asking(state, ctx, request) {
  state.wrong = null;
  try {
    return await request();
  } catch (error) {
    state.wrong = error.message;
    return null;
  } finally {
    ctx.redraw();
  }
}

const rename = (state, ctx) => asking(state, ctx, async () => {
  state.settings = await ctx.home.sendJson('PUT', '/settings', { collection: state.name.trim() });
  ctx.say(words.saved);
});

const invite = (state, ctx) => asking(state, ctx, async () => {
  state.invitation = await ctx.home.sendJson('POST', '/pairings', { role: state.role });
});

const revoke = (state, ctx, device) => asking(state, ctx, async () => {
  await ctx.home.sendJson('DELETE', `/devices/${device.id}`);
  state.devices = (await ctx.home.getJson('/devices')).devices;
  ctx.say(words.home.revoked(device.name));
});

function view(state, ctx) {
  return {
    title: words.home.title, back: { href: '#/settings', words: words.screens.settings },
    body: html`<div role="alert">${state.wrong ? html`<p class="wrong">${state.wrong}</p>` : nothing}</div>
      ${state.settings ? html`<form class="form" @submit=${(event) => { event.preventDefault(); rename(state, ctx); }}><div class="field">
        <label for="collection-name">${words.home.collection}</label><div class="keys"><input id="collection-name" maxlength="120" .value=${state.name}
        @input=${(event) => { state.name = event.target.value; }}><button class="key">${words.save}</button></div></div></form>` : nothing}
      ${inviteSection(state, ctx)}
      <section class="stack tight"><h2>${words.home.phones}</h2><ul class="rows">${state.devices.map((device) => deviceRow(state, ctx, device))}</ul></section>`,
  };
}

function inviteSection(state, ctx) {
  const { invitation } = state;
  return html`<section class="stack"><h2>${words.home.invite}</h2>
    ${choice(words.home.role, 'role', ['helper', 'owner'].map((value) => ({ value, words: words.role[value] })), state.role, (value) => { state.role = value; ctx.redraw(); })}
    <p class="soft">${words.home.roleHint}</p>
    <button type="button" class="key" id="invite" @click=${() => invite(state, ctx)}>${icon('phone')}${words.home.makeCode}</button>
    ${invitation ? html`<div class="sheet" role="status"><p class="figure"><span id="invitation-code">${invitation.code}</span></p>
      <p>${words.home.until(dayAndTime(timeMs(invitation.expires_at)))}</p>${invitation.url ? html`<p class="small">${invitation.url}</p>` : nothing}</div>` : nothing}</section>`;
}

function deviceRow(state, ctx, device) {
  const seen = timeMs(device.seen_at);
  const about = [words.role[device.role], device.revoked_at ? words.home.shutOut : seen ? words.home.seen(ageWords(seen)) : ''].filter(Boolean).join(' · ');
  const own = ctx.sync().pairing?.device === device.id;
  return html`<li class="row"><span class="grow"><strong>${device.name || words.home.nameless}</strong><span class="soft small">${about}</span></span>
    ${own ? html`<span class="soft">${words.home.thisOne}</span>` : device.revoked_at ? nothing : twicePressed(state, ctx, {
      name: device.id, label: words.home.revoke, sure: words.home.revokeSure, run: () => revoke(state, ctx, device) })}</li>`;
}

export const homeScreen = { open, view };
