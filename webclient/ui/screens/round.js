// The round: start one by choosing places, then see who is still unvisited in walking order, skip, and finish.
import { html, nothing } from 'lit-html';
import { timeText } from '../../core/time.js';
import { options, placeOf, varietyName, walkingOrder } from '../cards.js';
import { ageWords, dayAndTime } from '../format.js';
import { icon } from '../icons.js';
import { beginning, firstOf, treeRow, twicePressed } from '../parts.js';
import { plate } from '../plate.js';
import { words } from '../text.js';
import { thermoPart, unread } from '../thermo.js';

async function open(ctx) {
  const state = { chosen: new Set(), asked: null, shown: undefined, busy: false };
  await load(state, ctx);
  return state;
}

async function load(state, ctx) {
  const [cards, round] = await Promise.all([ctx.cards.get(), ctx.records.roundOpen()]);
  // All at once, because the screen may be drawn between two steps.
  Object.assign(state, { cards, round }, round ? await progress(ctx, cards, round) : {});
}

/** Who belongs to the round, who was seen in it, who was skipped, and who is left in walking order. */
async function progress(ctx, cards, round) {
  const [{ observations }, skips] = await Promise.all([ctx.records.ofRound(round.id), ctx.drafts.get(`skips:${round.id}`)]);
  const skipped = new Set(skips?.value ?? []);
  const seen = new Set(observations.map((one) => one.fields.tree));
  const all = walkingOrder(cards, treesOfRound(cards, round));
  const left = all.filter((tree) => !seen.has(tree.id) && !skipped.has(tree.id));
  return { all, seen, skipped, left, unread: await unread(ctx, cards, round.fields.places ?? []) };
}

/** A round without places takes in every tree; retired trees are in none. */
export function treesOfRound(cards, round) {
  const places = new Set(round.fields.places ?? []);
  return [...cards.trees.values()].filter((tree) => tree.fields.standing !== 'retired'
    && (places.size === 0 || places.has(placeOf(cards, tree)?.id)));
}

async function changed(state, ctx) {
  await load(state, ctx);
}

async function start(state, ctx) {
  if (state.busy) return;
  state.busy = true;
  const set = { started_at: timeText() };
  if (state.chosen.size > 0) set.places = [...state.chosen];
  await ctx.saving(() => ctx.records.save('round', null, set));
  state.busy = false;
  await load(state, ctx);
  ctx.redraw();
}

async function finish(state, ctx) {
  const { round } = state;
  const saved = await ctx.saving(() => ctx.records.save('round', round.id, { finished_at: timeText() }));
  if (!saved) return;
  ctx.say(words.round.finished, () => ctx.saving(() => ctx.records.saveAll(saved.undo)));
  ctx.go(`round/${round.id}`);
}

async function skip(state, ctx, tree) {
  state.skipped.add(tree.id);
  await ctx.saving(() => ctx.drafts.put(`skips:${state.round.id}`, [...state.skipped]));
  await load(state, ctx);
  ctx.redraw();
}

function view(state, ctx) {
  return state.round ? walking(state, ctx) : starting(state, ctx);
}

function starting(state, ctx) {
  const { cards, chosen } = state;
  if (!cards.trees.size) return { title: words.screens.round, body: beginning(ctx, cards.places.size) };
  const places = options(cards.places, 'place');
  const standing = countByPlace(cards);
  return {
    title: words.screens.round, low: true,
    body: html`<p>${words.round.choose}</p><fieldset class="field"><legend class="aside">${words.screens.places}</legend>
      <ul class="rows">${places.map((place) => html`<li><label class="tick"><input type="checkbox" name="place" .checked=${chosen.has(place.value)}
        @change=${(event) => { chosen[event.target.checked ? 'add' : 'delete'](place.value); ctx.redraw(); }}>
        <span class="grow">${place.words}</span> <span class="soft small">${words.trees.count(standing.get(place.value) ?? 0)}</span></label></li>`)}</ul></fieldset>`,
    dock: html`<button type="button" class="key main" id="start-round" ?disabled=${state.busy} @click=${() => start(state, ctx)}>${icon('round')}${
      chosen.size ? words.round.start(chosen.size) : words.round.startAll}</button>`,
  };
}

function countByPlace(cards) {
  const count = new Map();
  for (const tree of cards.trees.values()) {
    if (tree.fields.standing === 'retired') continue;
    const place = placeOf(cards, tree)?.id;
    count.set(place, (count.get(place) ?? 0) + 1);
  }
  return count;
}

function walking(state, ctx) {
  const { round, all, left, skipped, cards } = state;
  const done = all.length - left.length - [...skipped].filter((id) => !state.seen.has(id)).length;
  const [next, ...rest] = left;
  return {
    title: words.screens.round,
    body: html`<p class="figure" id="round-count">${words.round.seen(done, all.length)}</p>
      <p class="soft">${words.round.since(dayAndTime(round.at_ms))}${skipped.size ? ` ${words.round.skipped(skipped.size)}` : ''}</p>
      ${thermoPart(state, ctx)}${next ? nextTree(state, ctx, next) : html`<p>${words.round.allSeen}</p>`}
      ${rest.length ? html`<section class="stack tight"><h2>${words.round.then(rest.length)}</h2>
        ${firstOf(rest, state, ctx, (tree) => treeRow(tree, rowOf(cards, tree)), 12)}</section>` : nothing}
      <div class="keys">${twicePressed(state, ctx, { name: 'finish', label: words.round.finish, sure: left.length ? words.round.finishLeft(left.length) : words.round.finishSure, run: () => finish(state, ctx) })}</div>`,
  };
}

function nextTree(state, ctx, tree) {
  const { cards } = state;
  return html`<section class="sheet" aria-label=${words.round.next}><h2>${words.round.next}</h2>
    <p class="between">${plate(tree.fields.tag, 'big')}<strong>${varietyName(cards, tree)}</strong></p>
    <p class="soft">${rowOf(cards, tree).below}</p>
    <div class="keys halves"><a class="key" href="#/tree/${tree.id}">${words.round.open}</a>
    <button type="button" class="key" id="skip" @click=${() => skip(state, ctx, tree)}>${words.round.skip}</button></div></section>`;
}

function rowOf(cards, tree) {
  const latest = cards.latest.get(tree.id);
  return {
    variety: varietyName(cards, tree),
    below: [placeOf(cards, tree)?.fields.place, tree.fields.position && words.tree.position(tree.fields.position)].filter(Boolean).join(' · '),
    end: latest?.seen_at_ms ? ageWords(latest.seen_at_ms) : words.tree.unseen,
  };
}

export const roundScreen = { open, view, changed };
