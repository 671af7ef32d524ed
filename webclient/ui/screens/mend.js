// A refused entry: why home refused it, its fields to mend, and at last the choice to discard it.
import { html, nothing } from 'lit-html';
import { KINDS } from '../../core/shapes.js';
import { options } from '../cards.js';
import { readForm, textOf } from '../fields.js';
import { dayAndTime } from '../format.js';
import { formFields } from '../form.js';
import { icon } from '../icons.js';
import { twicePressed } from '../parts.js';
import { showTagCode } from '../../core/tagcode.js';
import { words } from '../text.js';
import { changeTitle } from './pocket.js';

const PHOTO = 'photo-';

async function open(ctx, { id }) {
  if (id.startsWith(PHOTO)) return { photo: await ctx.photos.info(id.slice(PHOTO.length)) };
  const parked = (await ctx.outbox.parked()).find((one) => one.id === id);
  if (!parked) return { gone: true };
  const { change, problem } = parked;
  const cards = await ctx.cards.get();
  const names = Object.keys(change.set).filter((name) => KINDS[change.kind][name]);
  const texts = Object.fromEntries(names.map((name) => [name, textOf(change.kind, name, change.set[name], ctx.units)]));
  const record = await ctx.records.get(change.kind, change.record);
  const form = { kind: change.kind, key: `mend:${id}`, names, texts: { ...texts, ...(await ctx.drafts.get(`mend:${id}`))?.value }, problems: problem.errors ?? [] };
  return { id, change, problem, parked, cards, form, tree: change.set.tree ?? record?.fields.tree };
}

function choicesOf(cards) {
  const trees = [...cards.trees.values()].map((tree) => ({ value: tree.id, words: showTagCode(tree.fields.tag) }));
  const places = options(cards.places, 'place');
  return { tree: trees, place: places, to_place: places, variety: options(cards.varieties, 'variety') };
}

function view(state, ctx) {
  const back = { href: '#/pocket', words: words.screens.pocket };
  if (state.photo) return photoView(state, ctx, back);
  if (state.gone || state.photo === null) return { title: words.mend.title, back, body: html`<p>${words.mend.gone}</p>` };
  const { change, problem, parked, form, cards, tree } = state;
  const choices = choicesOf(cards);
  const type = (name) => KINDS[change.kind][name]?.type;
  const shown = form.names.filter((name) => type(name) !== 'refs' && (type(name) !== 'ref' || choices[name]));
  const refs = Object.fromEntries(Object.entries(choices).filter(([name]) => type(name) === 'ref'));
  return {
    title: words.mend.title, back,
    body: html`<p><strong>${changeTitle(change, tree, cards)}</strong><br><span class="soft">${dayAndTime(parked.parked_at_ms)}</span></p>
      <p class="wrong" role="alert">${problem.detail ?? problem.title}</p>
      ${form.problems.filter((error) => !shown.includes(error.field)).map((error) => html`<p class="wrong">${error.message}</p>`)}
      ${formFields(form, ctx, refs, shown)}
      <p>${words.mend.discardHint}</p><div class="keys">${twicePressed(state, ctx, { name: 'discard', label: words.mend.discard, sure: words.mend.discardSure, run: () => discard(state, ctx) })}</div>`,
    dock: html`<button type="button" class="key main" id="send-again" ?disabled=${state.busy} @click=${() => mend(state, ctx)}>${icon('check')}${words.mend.again}</button>`,
  };
}

async function mend(state, ctx) {
  const { form, change, id } = state;
  const { set, problems } = readForm(change.kind, form.texts, { before: change.set, units: ctx.units });
  if (problems.length > 0) {
    form.problems = problems;
    ctx.redraw();
    return ctx.toWrong();
  }
  state.busy = true;
  const saved = await ctx.saving(() => ctx.outbox.mend(id, set), (found) => {
    form.problems = found;
    ctx.say(words.error.notSaved(found[0].message));
  });
  state.busy = false;
  if (!saved) return ctx.redraw();
  await ctx.keeper.drop(form.key);
  ctx.say(words.mend.done);
  return ctx.go('pocket');
}

async function discard(state, ctx) {
  await ctx.saving(() => ctx.outbox.discard(state.id));
  await ctx.keeper.drop(state.form.key);
  ctx.say(words.mend.discarded);
  ctx.go('pocket');
}

function photoView(state, ctx, back) {
  const { photo } = state;
  return {
    title: words.mend.title, back,
    body: html`<p class="wrong">${photo.problem?.detail ?? photo.problem?.title ?? nothing}</p>`,
    dock: html`<button type="button" class="key main" @click=${async () => {
      await ctx.saving(() => ctx.photos.retry(photo.sha256));
      ctx.say(words.mend.done);
      ctx.go('pocket');
    }}>${words.mend.photoAgain}</button>`,
  };
}

export const mendScreen = { open, view };
