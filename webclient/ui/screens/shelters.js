// What shelters and head starts change: each against each other, for a variety or for all of a species together.
import { html, nothing } from 'lit-html';
import { askHome } from '../asked.js';
import { amountText, boundsText, doubt, inOrder, MEASURES, pairKey, pairText, saying, shownValue, unitOf } from '../differences.js';
import { icon } from '../icons.js';
import { chooser, opening, reportState, teaching } from '../learned.js';
import { differenceScale, signedText, spanAxis, spanEnds, spanStrip } from '../spans.js';
import { words } from '../text.js';

const KEY = 'shelters';
const PATH = '/reports/compare';
/** So many differences are kept for offline, those of most trees first. */
const KEPT_MAX = 1500;
const KEPT_FIELDS = [
  'variety', 'species', 'species_words', 'varieties', 'shelter', 'against', 'measure', 'difference', 'low', 'high',
  'trees_shelter', 'trees_against', 'seen', 'told', 'head_start_days',
];

async function open(ctx, { variety }) {
  const draft = (await ctx.drafts.get(KEY))?.value ?? {};
  const state = { report: { document: null }, measure: draft.measure ?? null, subject: draft.subject ?? null, pair: draft.pair ?? null };
  if (variety) state.wanted = variety;
  askHome(ctx, PATH, (report) => { state.report = report; }, shorten);
  return state;
}

/** Without the sentences, which this screen makes in the grower's units; so that a large collection's can be kept too. */
export function shorten(document) {
  const short = (item) => Object.fromEntries(KEPT_FIELDS.filter((name) => name in item).map((name) => [name, item[name]]));
  const least = (item) => Math.min(item.trees_shelter, item.trees_against);
  const items = document.items.length > KEPT_MAX ? [...document.items].sort((a, b) => least(b) - least(a)).slice(0, KEPT_MAX) : document.items;
  return { ...document, items: items.map(short), overall: document.overall.map(short) };
}

const subjectOf = (item) => `${item.species}|${item.variety ?? ''}`;

/** Whom one can look at: all varieties of a species together first, then each. */
function subjectsOf({ items, overall }) {
  const found = new Map();
  for (const item of [...overall].sort((a, b) => b.varieties - a.varieties)) {
    const count = Math.max(item.varieties, found.get(subjectOf(item))?.count ?? 0);
    found.set(subjectOf(item), { count, words: words.shelters.together(item.species_words, count) });
  }
  const single = items.map((item) => [subjectOf(item), { words: item.variety }]).sort(([, a], [, b]) => a.words.localeCompare(b.words));
  single.forEach(([key, one]) => found.set(key, one));
  return [...found].map(([value, one]) => ({ value, words: one.words }));
}

/** What is looked at: the grower's choice where it is there, else the first that can be told, else the first. */
function look(state) {
  const { document } = state.report;
  const subjects = subjectsOf(document);
  const all = [...document.overall, ...document.items];
  const wanted = state.wanted && subjects.find((one) => one.words === state.wanted)?.value;
  const subject = wanted ?? (subjects.some((one) => one.value === state.subject) ? state.subject : subjects[0].value);
  const own = all.filter((item) => subjectOf(item) === subject);
  const measures = MEASURES.filter((measure) => all.some((item) => item.measure === measure));
  const first = inOrder(own)[0].measure;
  const measure = measures.includes(state.measure) ? state.measure : first;
  const rows = inOrder(own.filter((item) => item.measure === measure));
  const chosen = rows.find((item) => pairKey(item) === state.pair) ?? rows[0] ?? null;
  return { document, subjects, subject, measures, measure, rows, chosen, alone: state.wanted && !wanted ? state.wanted : '' };
}

function choose(state, ctx, change) {
  Object.assign(state, change, { wanted: null });
  ctx.keeper.keep(KEY, { measure: state.measure, subject: state.subject, pair: state.pair });
  ctx.redraw();
}

function view(state, ctx) {
  const { document } = state.report;
  return { title: words.shelters.title, body: html`${reportState(state.report, ctx)}
    ${document && (document.items.length ? comparison(look(state), state, ctx) : empty())}` };
}

function empty() {
  return teaching(words.shelters.empty, words.shelters.teach, html`<a class="key" href="#/places">${icon('place')}${words.shelters.places}</a>`);
}

function comparison(seen, state, ctx) {
  const { subjects, subject, measures, measure, rows, document, alone } = seen;
  const names = (name) => words.shelters.measures[name].name;
  return html`${alone ? html`<p>${words.shelters.alone(alone)}</p>` : nothing}<div class="choosers">
      ${chooser('which-variety', words.shelters.which, subjects, subject, (value) => choose(state, ctx, { subject: value }))}
      ${chooser('which-measure', words.shelters.measure, measures.map((value) => ({ value, words: names(value) })), measure, (value) => choose(state, ctx, { subject, measure: value }))}</div>
    ${rows.length === 0 ? html`<p class="figure">${words.shelters.cantTell}</p><p>${words.shelters.noPair}</p>` : html`
    ${headline(rows, document.trees_a_side_min, ctx)}
    <div class="two">${plot(rows, seen, state, ctx, { id: 'pairs', title: words.shelters.against, label: pairText, pick: true })}
      <div class="stack">${eachVariety(seen, state, ctx)}${opening(words.shelters.limits, words.shelters.limit)}</div></div>`}`;
}

/** The one thing to read: the largest difference that can be told, or that none can, and why. */
function headline(rows, least, ctx) {
  const [first] = rows;
  const told = rows.filter((item) => item.told !== 'unknown').length;
  if (told) {
    return html`<div class="stack tight" id="headline"><p class="figure">${saying(first, ctx.units)}.</p>
      <p>${sentence(boundsText(first.measure, first.low, first.high, ctx.units))} ${words.shelters.told(told, rows.length)}</p></div>`;
  }
  const count = (name) => rows.filter((item) => doubt(item, least) === name).length;
  const why = rows.length === 1 ? reason(doubt(first, least), least) : Object.entries(words.shelters.reasons).filter(([name]) => count(name)).map(([name, say]) => say(count(name), least)).join(' ');
  return html`<div class="stack tight" id="headline"><p class="figure">${words.shelters.cantTell}</p>
    <p>${words.shelters.untold(rows.length)} ${why} ${words.shelters.help}</p></div>`;
}

/** Why one difference can't be told. */
const reason = (doubted, least) => (doubted === 'few' ? words.shelters.few(least) : words.shelters[doubted]);

const sentence = (text) => `${text[0].toUpperCase()}${text.slice(1)}.`;

/** The pair that was touched, variety by variety, on an axis of its own. */
function eachVariety(seen, state, ctx) {
  const { chosen, document, measure } = seen;
  const rows = chosen ? inOrder(document.items.filter((item) => item.measure === measure && item.species === chosen.species && pairKey(item) === pairKey(chosen))) : [];
  if (rows.length < 2) return nothing;
  return plot(rows, seen, state, ctx, { id: 'varieties', title: `${words.shelters.each}: ${pairText(chosen)}`, label: (item) => item.variety, pick: false });
}

function plot(rows, { chosen, document, measure, subject }, state, ctx, { id, title, label, pick }) {
  const least = document.trees_a_side_min;
  const shown = (item) => ({
    low: shownValue(measure, item.low, ctx.units), high: shownValue(measure, item.high, ctx.units), value: shownValue(measure, item.difference, ctx.units),
  });
  const drawn = rows.filter((item) => item.difference !== null);
  const enough = drawn.filter((item) => doubt(item, least) !== 'few');
  const scale = differenceScale((enough.length ? enough : drawn).map(shown));
  const { more, less } = words.shelters.measures[measure];
  return html`<section class="stack tight" id=${id}><h2>${title}</h2>
    ${spanEnds(less, unitOf(measure, ctx.units), more)}
    ${spanAxis(scale, scale.ticks.map((at) => ({ at, text: signedText(at) })))}
    <ul class="spans">${rows.map((item) => html`<li>${row(item, { label, shown, scale, least, ctx,
      pressed: pick && item === chosen, pick: pick ? () => choose(state, ctx, { subject, pair: pairKey(item) }) : null })}</li>`)}</ul>
    ${table(rows, label, title, ctx)}</section>`;
}

function row(item, { label, shown, scale, least, ctx, pressed, pick }) {
  const why = doubt(item, least);
  const says = why ? words.shelters.cantTell : amountText(item.measure, item.difference, ctx.units);
  const inner = html`<span class="between"><strong>${label(item)}</strong><span class=${why ? 'soft' : 'says'}>${says}</span></span>
    ${item.difference === null ? nothing : spanStrip(shown(item), scale, { zero: 0, sure: !why })}
    <span class="between soft small"><span>${item.difference === null ? '' : boundsText(item.measure, item.low, item.high, ctx.units)}</span>
      <span>${words.shelters.sides(item.trees_shelter, item.trees_against)}</span></span>`;
  return pick ? html`<button type="button" class="span" aria-pressed=${pressed} @click=${pick}>${inner}${pressed ? values(item, why, least, ctx) : nothing}</button>`
    : html`<div class="span">${inner}</div>`;
}

/** What a touch tells beside the plot: why it can't be told, and the difference of these trees alone. */
function values(item, why, least, ctx) {
  const sentences = [why ? reason(why, least) : words.shelters.sure,
    item.variety !== null && typeof item.seen === 'number' ? words.shelters.plain(amountText(item.measure, item.seen, ctx.units)) : ''];
  return html`<span class="small">${sentences.filter(Boolean).join(' ')}</span>`;
}

function table(rows, label, title, ctx) {
  const { columns } = words.shelters;
  const value = (item, name) => (item[name] === null ? '' : signedText(shownValue(item.measure, item[name], ctx.units)));
  return html`<div class="aside"><table><caption>${title}</caption>
    <thead><tr>${[columns.pair, columns.says, columns.low, columns.high, columns.trees].map((name) => html`<th scope="col">${name}</th>`)}</tr></thead>
    <tbody>${rows.map((item) => html`<tr><th scope="row">${label(item)}</th>
      <td>${item.told === 'unknown' ? words.shelters.cantTell : amountText(item.measure, item.difference, ctx.units)}</td>
      <td>${value(item, 'low')}</td><td>${value(item, 'high')}</td><td>${words.shelters.sides(item.trees_shelter, item.trees_against)}</td></tr>`)}</tbody></table></div>`;
}

export const sheltersScreen = { open, view };
