// Now: what needs the grower, from the last sync; those to act on first.
import { html, nothing } from 'lit-html';
import { begunPlans } from '../begun.js';
import { placeOf, varietyName } from '../cards.js';
import { alertsOf, findingFull, gathered, noticeOf, treesNamed, trendOf } from '../finding.js';
import { ageWords } from '../format.js';
import { dateText } from '../../core/time.js';
import { icon } from '../icons.js';
import { openJobs } from '../jobs.js';
import { beginning } from '../parts.js';
import { words } from '../text.js';

const STEP = 8;
/** A lesson that was heeded rests so long. */
const HEEDED_DAYS = 180;
const HISTORY_DRAWN = 60;

async function open(ctx) {
  const state = { shown: STEP, items: [], total: 0, groups: 0, overview: null, trees: 0 };
  await load(state, ctx);
  return state;
}

/** Reads the findings that are shown, each with its tree and that tree's past; no more of them than are drawn. */
async function load(state, ctx) {
  const turn = (state.turn ?? 0) + 1;
  state.turn = turn;
  const [overview, cards, round, begun, jobs, lessons] = await Promise.all([ctx.settings.get('overview'), ctx.cards.get(), ctx.records.roundOpen(), begunPlans(ctx), ctx.records.list('job'), ctx.records.list('lesson')]);
  const alerts = alertsOf(overview);
  const groups = gathered(alerts);
  const items = await Promise.all(groups.slice(0, state.shown).map(async ({ alert, tags }) => {
    const trees = tags.map((tag) => ({ tag, tree: cards.byTag.get(tag) ?? null }));
    const { tree } = trees[0];
    const history = tree ? await ctx.records.history(tree.id, HISTORY_DRAWN) : [];
    return {
      alert, tree, trees, history, places: cards.places, variety: tree ? varietyName(cards, tree) : '',
      place: tree ? (placeOf(cards, tree)?.fields.place ?? '') : '',
      trend: tree ? trendOf(overview, tree) : null,
    };
  }));
  const out = Object.keys(begun).filter((tree) => cards.trees.has(tree)).length;
  const heeded = new Set(lessons.filter(({ fields }) => fields.heeded_on && daysSinceText(fields.heeded_on) < HEEDED_DAYS).map(({ id }) => id));
  const learnt = (overview?.document?.lessons ?? []).filter(({ id }) => !heeded.has(id));
  // What was read later is newer, whichever is ready first.
  if (turn !== state.turn) return;
  Object.assign(state, { jobs: openJobs(overview, jobs, cards, ctx.owner()).length, learnt, overview, items, round, out, total: alerts.length, groups: groups.length, places: cards.places, trees: cards.trees.size, alerts });
}

async function changed(state, ctx, event) {
  if (event.topic !== 'photos') await load(state, ctx);
}

function view(state, ctx) {
  return { title: words.screens.now, body: html`${summary(state, ctx)}${learntPart(state, ctx)}
    ${state.items.length ? html`<div class="two">${state.items.map(findingFull)}</div>` : nothing}
    ${state.groups > state.shown ? html`<button type="button" class="key" @click=${async () => {
      state.shown += STEP;
      await load(state, ctx);
      ctx.redraw();
    }}>${words.more(state.groups - state.shown)}</button>` : nothing}${shared(state)}${state.overview && state.trees ? lookingBack() : nothing}` };
}

/** Notes of other years whose time has come. */
function learntPart({ learnt }, ctx) {
  return learnt.length ? html`<section class="stack tight" id="learnt"><h2>${words.lesson.now}</h2>${learnt.map(({ id, lesson }) => html`<div class="between"><p>${lesson}</p>
    ${ctx.owner() ? html`<button type="button" class="key" @click=${() => heed(id, ctx)}>${words.lesson.heeded}</button>` : nothing}</div>`)}</section>` : nothing;
}

async function heed(id, ctx) {
  const saved = await ctx.saving(() => ctx.records.save('lesson', id, { heeded_on: dateText() }));
  if (saved) ctx.say(words.lesson.said, () => ctx.saving(() => ctx.records.saveAll(saved.undo)));
}

/** What a whole place shares needs nobody tree by tree, so it stands last and once. */
function shared({ overview, places }) {
  const notices = overview?.document?.notices ?? [];
  return notices.length ? html`<section class="stack tight"><h2>${words.now.places}</h2>${notices.map((notice) => noticeOf(notice, places.get(notice.place)?.fields.place))}</section>` : nothing;
}

/** What the years taught, quietly at the end. */
function lookingBack() {
  const way = (path) => html`<li><a class="row" href="#/${path}">${icon(path)}<span class="grow">${words.screens[path]}</span>${icon('on')}</a></li>`;
  return html`<section class="stack tight"><h2>${words.learned.title}</h2><ul class="rows">${way('season')}${way('shelters')}${way('groups')}</ul></section>`;
}

const daysSinceText = (day) => (Date.now() - Date.parse(`${day}T00:00:00Z`)) / 86_400_000;

function summary({ overview, total, trees, places, alerts, round, out, jobs }, ctx) {
  const named = total ? treesNamed(alerts) : null;
  const age = overview ? words.now.asOf(ageWords(overview.fetched_at_ms)) : '';
  const sync = ctx.sync();
  return html`<div class="stack tight">
    ${total ? html`<p class="figure">${words.now.figure(named.act, named.watch)}</p>` : nothing}
    ${!overview ? html`<p>${sync.phase === 'unpaired' ? words.now.unpaired : words.now.notYet}</p>` : nothing}
    ${overview && !trees ? beginning(ctx, places.size) : nothing}
    ${overview && trees && !total ? html`<p class="figure">${words.now.calmFigure}</p><p>${words.now.calm(trees)}</p>` : nothing}
    <p class="soft">${age}</p>
    ${sync.phase === 'unpaired' ? html`<p><a class="key" href="#/pair">${icon('phone')}${words.pair.title}</a></p>` : nothing}
    ${round ? html`<p><a class="key" href="#/round">${icon('round')}${words.now.roundOn}</a></p>` : nothing}
    ${jobs ? html`<p><a class="key" href="#/jobs">${icon('check')}${words.job.open(jobs)}</a></p>` : nothing}
    ${out ? html`<p><a class="key" href="#/out">${icon('out')}${words.out.underWay(out)}</a></p>` : nothing}</div>`;
}

export const nowScreen = { open, view, changed };
