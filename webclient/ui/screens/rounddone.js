// The summary of a round: who was seen, what fell, what changed since the visit before, what was moved and done.
import { html, nothing } from 'lit-html';
import { TASKS, wordsFor } from '../../core/vocabularies.js';
import { varietyName, walkingOrder } from '../cards.js';
import { dayAndTime } from '../format.js';
import { leavesOf } from '../history.js';
import { icon } from '../icons.js';
import { firstOf, treeRow } from '../parts.js';
import { words } from '../text.js';
import { treesOfRound } from './round.js';

const BEFORE_LOOKED_AT = 12;

async function open(ctx, { id }) {
  const [round, cards] = await Promise.all([ctx.records.get('round', id), ctx.cards.get()]);
  if (!round) return { missing: true };
  const of = await ctx.records.ofRound(id);
  const seen = new Set(of.observations.map((one) => one.fields.tree));
  const unseen = walkingOrder(cards, treesOfRound(cards, round)).filter((tree) => !seen.has(tree.id));
  const changes = (await Promise.all(of.observations.map((one) => changeOf(ctx, cards, one)))).filter((change) => change?.parts.length);
  changes.sort((a, b) => b.fallen - a.fallen);
  return { round, cards, ...of, seen, unseen, changes };
}

/** What fell and what was moved in a round, a sentence each. */
export function fallenAndMoved(observations, moves) {
  const fallen = observations.reduce((sum, { fields }) => sum + (fields.leaves_fallen ?? 0), 0);
  return [fallen ? words.roundDone.fell(fallen) : words.roundDone.noneFell, words.roundDone.moves(moves.length)].filter(Boolean);
}

/** What differs between a visit and the one before it, in words. */
async function changeOf(ctx, cards, visit) {
  const tree = cards.trees.get(visit.fields.tree);
  if (!tree) return null;
  const history = await ctx.records.history(tree.id, BEFORE_LOOKED_AT);
  const before = history.find((entry) => entry.kind === 'observation' && entry.at_ms < visit.at_ms && entry.id !== visit.id);
  const fallen = visit.fields.leaves_fallen ?? 0;
  const parts = fallen > 0 ? [words.roundDone.fallen(fallen)] : [];
  const step = (name, now, then) => {
    if (typeof now === 'number' && typeof then === 'number' && now !== then) parts.push(words.roundDone.step(words.field[name], then, now));
  };
  step('leaves', leavesOf(visit.fields), before ? leavesOf(before.fields) : null);
  for (const name of ['fruit_breba', 'fruit_main', 'damage_percent']) step(name, visit.fields[name], before?.fields[name]);
  return { tree, fallen, parts };
}

function view(state, ctx) {
  if (state.missing) return { title: words.roundDone.title, body: html`<p>${words.roundDone.missing}</p>` };
  const { round, cards, seen, unseen, changes, observations, moves, work } = state;
  return {
    title: words.roundDone.title, back: { href: '#/round', words: words.screens.round },
    body: html`<p class="figure">${words.roundDone.seen(seen.size)}</p>
      <p class="soft">${dayAndTime(round.at_ms)}</p>
      <p>${[...fallenAndMoved(observations, moves), workLine(work),
        unseen.length ? words.roundDone.unseen(unseen.length) : ''].filter(Boolean).join(' ')}</p>
      <p><a class="key" href="#/show/round/${round.id}">${icon('photo')}${words.show.key}</a></p>
      ${changes.length ? html`<section class="stack tight"><h2>${words.roundDone.changes}</h2>
        ${firstOf(changes, state, ctx, (change) => treeRow(change.tree, { variety: varietyName(cards, change.tree), below: change.parts.join(' · ') }), 20)}</section>` : nothing}
      ${unseen.length ? html`<details><summary>${words.roundDone.unseenList(unseen.length)}</summary><ul class="rows">
        ${unseen.slice(0, 60).map((tree) => html`<li>${treeRow(tree, { variety: varietyName(cards, tree), below: '' })}</li>`)}</ul></details>` : nothing}`,
  };
}

function workLine(work) {
  const tasks = new Map();
  for (const one of work) tasks.set(one.fields.task, (tasks.get(one.fields.task) ?? 0) + 1);
  return [...tasks].map(([task, count]) => words.roundDone.work(wordsFor(TASKS, task), count)).join(' ');
}

export const roundDoneScreen = { open, view };
