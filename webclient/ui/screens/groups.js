// Any two groups of trees against each other: each tree a dot, the means with what can be said, and what can't.
import { html, svg, nothing } from 'lit-html';
import { formatNumber } from '../../core/units.js';
import { askHome } from '../asked.js';
import { opening, chooser, reportState, teaching } from '../learned.js';
import { scaleOf, signedText, spanAxis } from '../spans.js';
import { words } from '../text.js';
import { shownValue, unitOf } from '../differences.js';

const KEY = 'groups';
const TICKS = 4;
const ASKED = ['measure', 'by', 'a', 'b', 'species'];

async function open(ctx) {
  const state = { asked: (await ctx.drafts.get(KEY))?.value ?? {}, report: { document: null }, turn: 0 };
  ask(state, ctx);
  askHome(ctx, '/reports/alike', ({ document }) => { state.alike = document?.items ?? []; });
  return state;
}

function ask(state, ctx) {
  const query = new URLSearchParams(ASKED.filter((name) => state.asked[name]).map((name) => [name, state.asked[name]]));
  const turn = state.turn += 1;
  askHome(ctx, `/reports/groups?${query}`, (report) => {
    if (turn !== state.turn) return false;
    state.report = report.document ? report : { ...report, document: state.report.document };
    return true;
  });
}

/** Another choice; groups of another kind, or of another species, are chosen afresh. */
function choose(state, ctx, name, value) {
  const kept = ['by', 'species'].includes(name) ? { a: '', b: '' } : {};
  state.asked = { ...state.asked, ...kept, [name]: value };
  ctx.keeper.keep(KEY, state.asked);
  ask(state, ctx);
  ctx.redraw();
}

function view(state, ctx) {
  const { document } = state.report;
  return {
    title: words.groups.title,
    body: html`<p class="soft">${words.groups.how}</p>${reportState(state.report, ctx)}${document ? choices(document, state, ctx) : nothing}
      ${document ? document.items.length ? answer(document, ctx) : teaching(words.groups.none, words.shelters.teach, nothing) : nothing}
      ${state.alike?.length ? html`<section class="stack tight" id="alike"><h2>${words.groups.alike}</h2><ul class="rows">${state.alike.map(({ say, evidence }) => html`<li class="entry"><p>${say}<br><span class="soft">${evidence.map((one) => `${words.shelters.measures[one.measure].name}: ${words.shelters.between(signedText(one.low), signedText(one.high))}`).join(' · ')}</span></p></li>`)}</ul></section>` : nothing}`,
  };
}

function choices({ asked, species, measures, groups }, state, ctx) {
  const now = { measure: asked.measure, by: asked.by, a: asked.first, b: asked.second, species: asked.species };
  const pick = (name) => (value) => choose(state, ctx, name, value);
  const listed = groups[asked.by].map(({ value, words: said, trees }) => ({ value, words: words.groups.group(said, trees) }));
  return html`<div class="choosers">
    ${species.length > 1 ? chooser('groups-species', words.groups.species, species, now.species, pick('species')) : nothing}
    ${chooser('groups-measure', words.shelters.measure, measures.map((value) => ({ value, words: words.shelters.measures[value].name })), now.measure, pick('measure'))}
    ${chooser('groups-by', words.groups.by, Object.keys(groups).map((value) => ({ value, words: words.groups.kinds[value] })), now.by, pick('by'))}
    ${chooser('groups-a', words.groups.first, listed.filter(({ value }) => value !== now.b), now.a, pick('a'))}
    ${chooser('groups-b', words.groups.second, listed.filter(({ value }) => value !== now.a), now.b, pick('b'))}</div>`;
}

function answer({ asked, say, limits, dots, groups }, ctx) {
  const { measure } = asked;
  const told = Object.fromEntries(groups[asked.by].map((group) => [group.value, group.words]));
  const shown = (one) => shownValue(measure, one.value, ctx.units);
  const sides = [[told[asked.first], dots[0].map(shown)], [told[asked.second], dots[1].map(shown)]];
  const all = sides.flatMap(([, values]) => values);
  const scale = scaleOf(Math.min(0, ...all), Math.max(...all, 1));
  const ticks = Array.from({ length: TICKS }, (_, at) => scale.from + ((scale.to - scale.from) * at) / (TICKS - 1));
  const unit = unitOf(measure, ctx.units);
  return html`<p class="figure step" id="headline">${say}</p>
    <figure class="stack tight"><p class="soft small">${words.shelters.measures[measure].name}, ${unit}</p>
      ${spanAxis(scale, ticks.map((at) => ({ at, text: formatNumber(at, scale.to < 10 ? 1 : 0) })))}
      ${sides.map(([name, values]) => html`<p class="small"><strong>${name}</strong></p>${dotStrip(values, scale)}`)}
      <figcaption class="soft">${words.groups.dots}</figcaption>
      <table class="aside"><caption>${words.groups.title}</caption><thead><tr><th scope="col">${words.groups.by}</th><th scope="col">${words.groups.mean}</th><th scope="col">${words.shelters.columns.trees}</th></tr></thead>
        <tbody>${sides.map(([name, values]) => html`<tr><th scope="row">${name}</th><td>${formatNumber(mean(values), 1)} ${unit}</td><td>${values.length}</td></tr>`)}</tbody></table></figure>
    ${opening(words.shelters.limits, limits)}`;
}

const mean = (values) => values.reduce((sum, value) => sum + value, 0) / values.length;

/** Each tree as a dot, those of one value beside each other; the mean as a line. */
function dotStrip(values, scale) {
  const rows = new Map();
  return svg`<svg class="spans-strip sure" width="100%" height="44" aria-hidden="true">${values.map((value) => {
    const place = Math.round(scale.x(value));
    const row = rows.get(place) ?? 0;
    rows.set(place, row + 1);
    return svg`<circle class="dot" cx="${scale.x(value)}%" cy="${36 - (row % 5) * 7}" r="4.5" />`;
  })}<line class="zero" x1="${scale.x(mean(values))}%" x2="${scale.x(mean(values))}%" y1="0" y2="44" /></svg>`;
}

export const groupsScreen = { open, view };
