// What happened to a tree: rows of visits, moves, work and harvests, and its leaves as a small chart.
import { html, nothing } from 'lit-html';
import { dateText } from '../core/time.js';
import { formatQuantity } from '../core/units.js';
import { FRUITS, TASKS, TASK_AMOUNTS, wordsFor } from '../core/vocabularies.js';
import { chart } from './chart.js';
import { noonOf, shortDay } from './format.js';
import { words } from './text.js';
import { meanOfShoots } from './shoots.js';
import { visitSummary } from './visit.js';

/** One entry in words, whatever its kind. `places` maps ids to place records. */
export function entryText(entry, ctx, places) {
  const { kind, fields } = entry;
  if (kind === 'observation') return visitSummary(fields, ctx.units) || words.history.looked;
  if (kind === 'move') return words.history.moved(places?.get(fields.to_place)?.fields.place ?? words.history.somewhere);
  if (kind === 'work') return workText(fields, ctx);
  if (kind === 'harvest') return harvestText(fields);
  return words.history.photo;
}

export function workText(fields, ctx) {
  const task = wordsFor(TASKS, fields.task);
  const amount = amountText(fields, ctx);
  return [amount ? `${task}, ${amount}` : task, fields.note].filter(Boolean).join(' · ');
}

function amountText({ task, amount }, ctx) {
  if (amount === undefined || amount === null) return '';
  return TASK_AMOUNTS[task] === 'volume' ? formatQuantity('volume', amount, ctx.units) : words.history.fruits(amount);
}

function harvestText(fields) {
  return [wordsFor(FRUITS, fields.fruit), fields.weight_g != null && words.history.grams(fields.weight_g),
    fields.quality && words.history.quality(fields.quality)].filter(Boolean).join(' · ');
}

/**
 * Rows of entries, newest first; `withdraw` adds a key to each that takes a mistaken one back; `by` names the phone that
 * noted an entry, which is told where there are several.
 */
export function historyRows(entries, places, ctx, withdraw = () => nothing, by = {}) {
  const several = new Set(Object.values(by)).size > 1;
  return html`<ul class="rows">${entries.map((entry) => html`<li class="entry">
    <p><span class="soft">${shortDay(entry.at_ms)}</span> ${words.kind[entry.kind]}${entry.unsent ? html` <em class="soft">${words.history.unsent}</em>` : nothing}
      <br>${entryText(entry, ctx, places)}${several && by[entry.id] ? html` <span class="soft small">${words.history.by(by[entry.id])}</span>` : nothing}</p>${entry.kind === 'photo' ? html`<a class="key" href="#/photo/${entry.id}">${words.history.look}</a>` : nothing}${withdraw(entry)}</li>`)}</ul>`;
}

/**
 * All leaves by count, or by leaves a shoot times shoots, with moves and work as marks;
 * `trend` gives what can be said of the leaves there are now and, with its series, of those at each count.
 */
export function leafSeries(history, places, trend = null) {
  const points = [];
  const marks = [];
  // Home links marked shoots from visit to visit, so that one that was lost makes no step; alone, the phone can't.
  const linked = new Map((trend?.series ?? []).filter((one) => typeof one.leaves === 'number').map((one) => [one.at, Math.round(one.leaves)]));
  let shoots = null;
  for (const entry of history.toReversed()) {
    shoots = entry.fields.shoots ?? shoots;
    const known = entry.fields.shoot_leaves ? linked.get(dateText(entry.at_ms)) : undefined;
    const leaves = known ?? (entry.kind === 'observation' && !entry.fields.part ? leavesOf(entry.fields, shoots) : null);
    if (leaves !== null) points.push({ at: entry.at_ms, value: leaves });
    if (entry.kind === 'move') marks.push({ at: entry.at_ms, what: words.history.moved(places?.get(entry.fields.to_place)?.fields.place ?? words.history.somewhere) });
    if (entry.kind === 'work') marks.push({ at: entry.at_ms, what: wordsFor(TASKS, entry.fields.task) });
  }
  const band = bandOf(trend?.series ?? [], points);
  const span = band.length < 2 && typeof trend?.leaves_low === 'number' ? { low: trend.leaves_low, high: trend.leaves_high } : null;
  return { points, marks, span, band, unit: words.chart.leaves, name: words.chart.leavesName };
}

/** Home names only the day of a count, so its band is laid at the moment of this phone's own count of that day. */
function bandOf(series, points) {
  const counted = new Map(points.map((point) => [dateText(point.at), point.at]));
  return series.filter((one) => typeof one.low === 'number')
    .map((one) => ({ at: counted.get(one.at) ?? noonOf(one.at), low: one.low, high: one.high }));
}

/** All leaves that a visit found; all shoots may have been counted earlier where a few of them are marked. */
export function leavesOf({ leaves, shoots, leaves_per_shoot: perShoot, shoot_leaves: marked }, shootsBefore = null) {
  if (typeof leaves === 'number') return leaves;
  const [mean, all] = marked ? [meanOfShoots(marked), shoots ?? shootsBefore] : [perShoot, shoots];
  return typeof all === 'number' && typeof mean === 'number' ? Math.round(all * mean) : null;
}

/** The trend in words; a direction is named only where home names one, and always with its interval. */
export function trendText(trend) {
  const { leaves_low: low, leaves_high: high, direction, change_low: from, change_high: to } = trend;
  const parts = [];
  if (typeof low === 'number') parts.push(words.trend.leaves(Math.round(low), Math.round(high)));
  const moving = ['rising', 'falling', 'steady'].includes(direction) && typeof from === 'number';
  parts.push(moving ? words.trend[direction](perWeek(from), perWeek(to)) : words.trend.unknown);
  return parts.join(' ');
}

/** Whole percents say enough, but a small change is not told as none. */
function perWeek(percent) {
  return Number(percent.toFixed(Math.abs(percent) < 2 ? 1 : 0));
}

/** The chart of a tree; nothing when its leaves were never counted. */
export function treeChart(history, places, trend = null) {
  const series = leafSeries(history, places, trend);
  if (series.points.length === 0) return nothing;
  return html`<section class="stack tight" id="leaf-chart"><h2>${words.chart.leavesName}</h2>${chart(series)}${trend ? html`<p>${trendText(trend)}</p>` : nothing}</section>`;
}
