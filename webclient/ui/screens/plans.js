// Lessons that come back in other years, and batches of cuttings with what became of them: two lists.
import { html, nothing } from 'lit-html';
import { TASKS, wordsFor } from '../../core/vocabularies.js';
import { varietyName } from '../cards.js';
import { fileIn } from '../filein.js';
import { icon } from '../icons.js';
import { fetchFile } from '../papers.js';
import { caution, rowOf } from '../parts.js';
import { spaceCode } from '../plate.js';
import { words } from '../text.js';

/** Standard normal quantile of a 90 % interval. */
const Z_90 = 1.6449;

/**
 * The share of cuttings that root, with its 90 % interval (Wilson 1927, J. Am. Stat. Assoc. 22:209-212), in a hundred.
 * @returns {{low: number, high: number}}
 */
export function rootedRange(rooted, taken) {
  const share = rooted / taken;
  const square = Z_90 ** 2 / taken;
  const middle = (share + square / 2) / (1 + square);
  const half = (Z_90 / (1 + square)) * Math.sqrt((share * (1 - share)) / taken + square / (4 * taken));
  return { low: Math.round(100 * Math.max(0, middle - half)), high: Math.round(100 * Math.min(1, middle + half)) };
}

async function load(ctx, kind) {
  const [records, cards] = await Promise.all([ctx.records.list(kind), ctx.cards.get()]);
  return { records, cards };
}

function listScreen(kind, line) {
  return {
    open: (ctx) => load(ctx, kind),
    changed: async (state, ctx) => Object.assign(state, await load(ctx, kind)),
    view: (state, ctx) => ({
      title: words[kind].title,
      body: html`${state.records.length ? html`<ul class="rows">${state.records.map((record) => html`<li>${rowOf(ctx, `#/edit/${kind}/${record.id}`, html`
          <span class="grow"><strong>${record.fields[kind]}</strong><span class="soft small">${line(record.fields, state.cards)}</span></span>`)}</li>`)}</ul>` : html`<p>${words[kind].none}</p>`}
        ${kind === 'batch' ? html`${caution(words.batch.caution)}${ctx.owner() ? trade(state, ctx) : nothing}` : nothing}`,
      dock: ctx.owner() ? html`<a class="key main" href="#/edit/${kind}/new">${icon('plus')}${words[kind].add}</a>` : nothing,
    }),
  };
}

/** What goes out to others and comes in from them. */
function trade(state, ctx) {
  const say = words.trade;
  return html`<section class="stack" id="trade"><h2>${say.title}</h2><p class="soft">${say.note}</p><div class="keys">
    ${['offers.pdf', 'passports.csv'].map((name) => html`<button type="button" class="key" @click=${() => fetchFile(ctx, `/${name}`, name)}>${icon('file')}${say[name]}</button>`)}</div>
    ${fileIn(state, ctx, { path: '/passports', label: say.bring, tell: ({ lines }) => lines.join('\n') })}</section>`;
}

function lessonLine({ on_day: day, degree_days: sum, task, variety, place, tree }, cards) {
  const { when } = words.lesson;
  const times = [day && when.day(day), sum && when.heat(sum), task && when.task(wordsFor(TASKS, task))].filter(Boolean);
  const ties = [cards.varieties.get(variety)?.fields.variety, cards.places.get(place)?.fields.place, cards.trees.has(tree) && spaceCode(cards.trees.get(tree).fields.tag)];
  return [times.join(', ') || when.never, ...ties].filter(Boolean).join(' · ');
}

function batchLine({ taken, rooted = 0, failed = 0, variety, parent }, cards) {
  const range = taken ? rootedRange(rooted, taken) : null;
  const rate = !taken ? '' : rooted + failed >= taken ? words.batch.rate(rooted, taken, range.low, range.high) : words.batch.open(rooted, taken);
  const from = cards.trees.get(parent);
  return [cards.varieties.get(variety)?.fields.variety ?? (from ? varietyName(cards, from) : ''), from && words.batch.from(spaceCode(from.fields.tag)), rate].filter(Boolean).join(' · ');
}

export const lessonsScreen = listScreen('lesson', lessonLine);
export const cuttingsScreen = listScreen('batch', batchLine);
