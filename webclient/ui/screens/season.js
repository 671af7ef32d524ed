// A growing year's review: each variety under each shelter with its verdict, its rank and how sure that is.
import { html, nothing } from 'lit-html';
import { repeat } from 'lit-html/directives/repeat.js';
import { dateText } from '../../core/time.js';
import { formatNumber } from '../../core/units.js';
import { COVERS, DECISIONS, wordsFor } from '../../core/vocabularies.js';
import { askHome } from '../asked.js';
import { varietyName } from '../cards.js';
import { sentenceCase } from '../differences.js';
import { fetchFile } from '../papers.js';
import { icon } from '../icons.js';
import { chooser, opening, reportState, teaching } from '../learned.js';
import { choice } from '../parts.js';
import { scaleOf, spanAxis, spanStrip } from '../spans.js';
import { words } from '../text.js';

const KEY = 'season';
const STEP = 12;
const YEAR_KEYS_MAX = 3;
const VERDICTS = ['keep', 'try again', 'let go'];
const ICONS = { keep: 'check', 'try again': 'again', 'let go': 'close' };
const ORDERS = {
  rank: (a, b) => a.rank - b.rank,
  variety: (a, b) => a.variety.localeCompare(b.variety) || a.rank - b.rank,
  shelter: (a, b) => shelterWord(a).localeCompare(shelterWord(b)) || a.rank - b.rank,
};

const shelterWord = (item) => wordsFor(COVERS, item.shelter);

async function open(ctx) {
  const draft = (await ctx.drafts.get(KEY))?.value ?? {};
  const state = { report: { document: null }, cards: await ctx.cards.get(), years: [], year: null, verdict: null, order: draft.order in ORDERS ? draft.order : 'rank', shown: STEP };
  ask(state, ctx);
  return state;
}

/** Asks for the chosen year, or for the one that is going on. */
function ask(state, ctx) {
  const { year } = state;
  askHome(ctx, year ? `/reports/season?year=${year}` : '/reports/season', (report) => {
    if (state.year !== year) return;
    state.report = report;
    if (report.document) Object.assign(state, { years: report.document.years, running: report.document.year });
  });
}

function chooseYear(state, ctx, year) {
  Object.assign(state, { year, verdict: null, shown: STEP });
  ask(state, ctx);
}

function chooseOrder(state, ctx, order) {
  state.order = order;
  ctx.keeper.keep(KEY, { order });
  ctx.redraw();
}

function view(state, ctx) {
  const { document } = state.report;
  return { title: words.season.title, body: html`${reportState(state.report, ctx)}${state.years.length ? yearChoice(state, ctx) : nothing}${document ? review(document, state, ctx) : nothing}` };
}

function review(document, state, ctx) {
  const { items, year, early } = document;
  const shown = items.filter((item) => !state.verdict || item.verdict === state.verdict);
  return html`<p class="soft">${words.season.runs(document.growing_year, document.over)}</p>
    ${items.length === 0 ? teaching(words.season.empty(year), words.season.teach, html`<a class="key" href="#/round">${icon('round')}${words.season.round}</a>`) : html`
    ${early ? html`<div class="stack tight" id="headline"><p class="figure">${words.season.early}</p><p>${words.season.earlyWhy}</p></div>` : verdictChoice(items, state, ctx)}
    ${chooser('which-order', words.season.order, Object.keys(ORDERS).map((value) => ({ value, words: words.season.orders[value] })), state.order, (value) => chooseOrder(state, ctx, value))}
    ${speciesParts(shown, items, document, state, ctx)}
    <button type="button" class="key" id="season-paper" @click=${() => fetchFile(ctx, `/season.pdf?year=${year}`, `season-${year}.pdf`)}>${icon('print')}${words.season.paper}</button>
    <p><a class="key" href="#/show/season">${icon('photo')}${words.show.key}</a></p>
    ${rests(document, ctx)}`}`;
}

function yearChoice(state, ctx) {
  const { years } = state;
  const year = state.year ?? state.running;
  const all = [...new Set([...years, year])].sort((a, b) => b - a).map((value) => ({ value, words: String(value) }));
  return all.length <= YEAR_KEYS_MAX ? choice(words.season.year, 'year', all, year, (value) => chooseYear(state, ctx, value))
    : chooser('which-year', words.season.year, all.map((one) => ({ ...one, value: one.words })), String(year), (value) => chooseYear(state, ctx, Number(value)));
}

/** How many of each verdict, each a key that shows only those. */
function verdictChoice(items, state, ctx) {
  const count = (verdict) => items.filter((item) => item.verdict === verdict).length;
  const pick = (verdict) => { Object.assign(state, { verdict: state.verdict === verdict ? null : verdict, shown: STEP }); ctx.redraw(); };
  return html`<div class="keys verdicts" role="group" aria-label=${words.season.show} id="headline">${VERDICTS.map((verdict) => html`
    <button type="button" class="key stack" aria-pressed=${state.verdict === verdict} @click=${() => pick(verdict)}>
      <span class="figure">${count(verdict)}</span><span class="level">${icon(ICONS[verdict])}${words.season.verdict[verdict]}</span></button>`)}</div>`;
}

function speciesParts(shown, items, document, state, ctx) {
  if (shown.length === 0) return html`<p>${words.season.none}</p>`;
  const kinds = (name) => items.filter((item) => item.species === name).length;
  const species = [...new Set(shown.map((item) => item.species))].sort((a, b) => kinds(b) - kinds(a));
  let left = state.shown;
  return html`${species.map((name) => {
    const own = shown.filter((item) => item.species === name).sort(ORDERS[state.order]);
    const drawn = own.slice(0, Math.max(0, left));
    left -= drawn.length;
    return drawn.length ? speciesPart(name, drawn, kinds(name), document, state, ctx) : nothing;
  })}${shown.length > state.shown ? html`<button type="button" class="key" @click=${() => { state.shown += STEP; ctx.redraw(); }}>${words.more(shown.length - state.shown)}</button>` : nothing}`;
}

function speciesPart(species, drawn, kinds, { early }, state, ctx) {
  const { of } = drawn[0];
  const scale = scaleOf(1, of);
  const middle = (of + 1) / 2;
  const ticks = of > 2 ? [1, middle, of] : [1, of];
  const title = words.season.rankAxis(sentenceCase(drawn[0].species_words ?? species), kinds, of);
  return html`<section class="stack tight"><h2>${title}</h2>
    ${of > 1 ? spanAxis(scale, ticks.map((at) => ({ at, text: at === middle ? words.season.middle : words.season.place(at) }))) : nothing}
    <ul class="kinds">${repeat(drawn, (item) => `${item.variety}|${item.shelter}`, (item) => html`<li>${kind(item, { scale, middle, early }, state, ctx)}</li>`)}</ul>
    ${table(title, drawn, early)}</section>`;
}

/** One variety under one shelter: the verdict is the largest thing; what it rests on opens at a touch. */
function kind(item, { scale, middle, early }, state, ctx) {
  const { verdict, rank, rank_low: low, rank_high: high, of } = item;
  return html`<details class="opens kind"><summary>
      <span class="between">${early ? nothing : html`<span class="verdict ${verdict.replace(' ', '-')}">${icon(ICONS[verdict])}${words.season.verdict[verdict]}</span>`}
        <span class="who"><strong>${item.variety}</strong> <span class="soft">${shelterWord(item)}</span></span></span>
      ${of > 1 ? html`${spanStrip({ low, high, value: rank }, scale, { zero: middle, sure: verdict !== 'try again' && !early })}
` : nothing}<span class="between small"><span class="soft">${of > 1 ? words.season.rank(low, high, of) : ''}</span>
        <span class="more">${early ? words.season.more : words.season.why}</span></span></summary>
    <div class="stack">${early ? nothing : html`<p>${item.reasons.join(' ')}</p>`}${figures(item)}${ctx.owner() ? decisionPart(item.variety, state, ctx) : nothing}
      <p><a class="key" href="#/shelters/${encodeURIComponent(item.variety)}">${words.season.compare(item.variety)}</a></p></div></details>`;
}

/** What is to become of a variety's trees; jobs and tags follow from it at home. */
function decisionPart(variety, { cards }, ctx) {
  const trees = [...cards.trees.values()].filter((tree) => tree.fields.standing !== 'retired' && varietyName(cards, tree) === variety);
  const taken = new Set(trees.map((tree) => tree.fields.decision));
  return trees.length ? html`${choice(words.season.decide(variety, trees.length), `decide-${trees[0].id}`, DECISIONS, taken.size === 1 ? [...taken][0] : null, (decision) => decide(trees, decision, ctx))}
    <p class="soft how">${words.season.follows}</p>` : nothing;
}

const STANDING_OF = { keep: { standing: 'keeper' }, trial_again: { standing: 'trial' } };

async function decide(trees, decision, ctx) {
  const set = { decision, decided_on: dateText(), ...STANDING_OF[decision] };
  const saved = await ctx.saving(() => ctx.records.saveAll(trees.map((tree) => ({ kind: 'tree', record: tree.id, set }))));
  if (saved) ctx.say(words.season.decided(wordsFor(DECISIONS, decision), trees.length), () => ctx.saving(() => ctx.records.saveAll(saved.flatMap((one) => one.undo))));
}

async function changed(state, ctx, { topic }) {
  if (topic !== 'photos') state.cards = await ctx.cards.get();
}

const round = (value, digits = 0) => formatNumber(value, digits);

/** What was measured that year, a line each; what is not known is left out. */
function figures(item) {
  const { figure, gave, gaveBetween, picked, quality, ripe, each, percent } = words.season;
  const grams = item.yield_g ?? item.picked_g;
  const rows = [
    grams !== null && [figure.yield, [gave(round(grams)), item.yield_low !== null && gaveBetween(round(item.yield_low), round(item.yield_high)), picked(item.trees_picked)]],
    item.quality !== null && [figure.quality, [quality(round(item.quality, 1))]],
    item.days_to_ripeness !== null && [figure.ripe, [ripe(round(item.days_to_ripeness))]],
    item.troubles !== null && [figure.troubles, [each(round(item.troubles, 1))]],
    item.damage_percent !== null && [figure.damage, [percent(round(item.damage_percent))]],
    item.care !== null && [figure.care, [each(round(item.care, 1))]],
    [figure.trees, [item.trees]],
  ].filter(Boolean);
  return html`<table><tbody>${rows.map(([name, parts]) => html`<tr><th scope="row">${name}</th><td>${parts.filter((part) => part !== false).join(', ')}</td></tr>`)}</tbody></table>`;
}

function table(title, drawn, early) {
  const { columns } = words.season;
  return html`<div class="aside"><table><caption>${title}</caption>
    <thead><tr>${[columns.kind, columns.verdict, columns.rank, columns.low, columns.high].map((name) => html`<th scope="col">${name}</th>`)}</tr></thead>
    <tbody>${drawn.map((item) => html`<tr><th scope="row">${words.season.under(item.variety, shelterWord(item))}</th>
      <td>${early ? '' : words.season.verdict[item.verdict]}</td><td>${item.rank}</td><td>${item.rank_low}</td><td>${item.rank_high}</td></tr>`)}</tbody></table></div>`;
}

/** How the rank is made, and the way to what counts for how much. */
function rests({ weights }, ctx) {
  const parts = Object.entries(weights).filter(([, share]) => share > 0).map(([name, share]) => words.season.counts(words.season.weight[name], Math.round(100 * share)));
  return opening(words.season.how, [...words.season.made, words.season.countsAre(parts)],
    ctx.owner() ? html`<p><a class="key" href="#/season/weights">${icon('edit')}${words.season.weigh}</a></p>` : nothing);
}

export const seasonScreen = { open, view, changed };
