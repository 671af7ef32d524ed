// Findings from the last sync: one computed statement each, with level, reason and advice.
import { html, nothing } from 'lit-html';
import { chart } from './chart.js';
import { dayOf } from './format.js';
import { leafSeries } from './history.js';
import { icon } from './icons.js';
import { caution, level } from './parts.js';
import { plate } from './plate.js';
import { words } from './text.js';

const LEVELS = ['act', 'watch'];
/** Findings that rest on the leaves counted so far, and so are shown with their chart. */
const BY_LEAVES = ['leaf_drop', 'overloaded', 'behind', 'too_much_light'];
/** What alerts of a kind have in common when they are told as one; all others name their tree alone. */
const SHARED = { cold: ['level', 'place', 'night'], too_much_light: ['level', 'from_place', 'to_place', 'since'] };

/** The alerts of the last overview, those to act on first. */
export function alertsOf(overview) {
  const alerts = overview?.document?.alerts ?? [];
  return [...alerts].sort((a, b) => LEVELS.indexOf(a.level) - LEVELS.indexOf(b.level));
}

/**
 * Alerts to be shown one by one, but for what came over many trees at once: one night's cold in one place, and one day's
 * move into more light, are told once, with all the trees they meet.
 * @param {Array<object>} alerts in the order in which they are shown
 * @returns {Array<{alert: object, tags: string[]}>} `alert` holds the reasons: of a cold night all that any tree gives,
 *   of a move those that its trees share
 */
export function gathered(alerts) {
  const groups = new Map();
  for (const alert of alerts) {
    const key = [alert.kind, ...(SHARED[alert.kind] ?? ['tag']).map((name) => alert[name])].join('|');
    const known = groups.get(key);
    if (known) {
      known.alert = { ...known.alert, why: bothReasons(known.alert, alert), advice: bothAdvices(known.alert.advice, alert.advice) };
      known.tags.push(alert.tag);
    } else groups.set(key, { alert, tags: [alert.tag] });
  }
  return [...groups.values()];
}

/** How many trees are to be acted on, and how many more only to be watched. */
export function treesNamed(alerts) {
  const acting = new Set(alerts.filter(({ level: at }) => at === 'act').map(({ tag }) => tag));
  return { act: acting.size, watch: new Set(alerts.map(({ tag }) => tag)).size - acting.size };
}

function bothReasons({ kind, why }, other) {
  return kind === 'cold' ? [...new Set([...why, ...other.why])] : why.filter((reason) => other.why.includes(reason));
}

function bothAdvices(one, other) {
  return one.includes(other) ? one : `${one} ${other}`;
}

/** The alerts that name this tree by its present or a former tag. */
export function findingsOf(overview, tree) {
  const tags = new Set([tree.fields.tag, ...(tree.fields.former_tags ?? [])]);
  return alertsOf(overview).filter((alert) => tags.has(alert.tag));
}

/** What stands on a tree's card above its form: level, what was seen, what to do; the reasons open at a touch. */
export function findingBrief(alert) {
  const since = sinceText(alert);
  return html`<section class="finding brief ${alert.level}" aria-label=${words.finding.label}>
    <details><summary>${level(alert.level)} <span>${words.finding.kind[alert.kind] ?? alert.kind} <span class="since">${since}</span></span></summary>
      ${reasons(alert)}</details>
    ${alert.advice ? html`<p>${alert.advice}</p>` : nothing}</section>`;
}

/** Since when it is so; of cold ahead, in which night it comes. */
function sinceText({ since, night }) {
  if (night) return words.finding.night(dayOf(night));
  return since ? words.finding.since(dayOf(since)) : '';
}

function heading(alert) {
  const since = sinceText(alert);
  return html`<h2>${level(alert.level)}<br>${words.finding.kind[alert.kind] ?? alert.kind} <span class="since">${since}</span></h2>`;
}

/** What was seen, and the likeliest cause with its evidence; further causes open at a touch. */
function reasons({ why, likely_causes: causes = [] }) {
  const [first, ...others] = causes.filter((one, at) => at === 0 || one.cause !== 'unknown');
  return html`<div class="stack tight"><p>${why.join(' ')}</p>
    ${first ? html`<p><strong>${words.finding.likely(first.cause)}</strong> ${first.evidence}</p>` : nothing}
    ${others.length ? html`<details><summary>${words.finding.others(others.length)}</summary>${others.map((one) => html`
      <p><strong>${words.finding.cause(one.cause)}</strong> ${one.evidence}</p>`)}</details>` : nothing}</div>`;
}

/** What home says of this tree's leaves: its trend item; null when it says nothing. */
export function trendOf(overview, tree) {
  const tags = new Set([tree.fields.tag, ...(tree.fields.former_tags ?? [])]);
  return overview?.document?.trends?.find((trend) => tags.has(trend.tag)) ?? null;
}

/** What a whole place shares, said once. */
export function noticeOf(notice, place) {
  return html`<article class="finding"><h2>${place || notice.place} <span class="since">${words.finding.since(dayOf(notice.since))}</span></h2>
    <p>${notice.why.join(' ')}</p></article>`;
}

/**
 * One finding in full, as it stands on Now.
 * @param {{alert: object, trees: Array<{tag: string, tree: object|null}>, tree: object|null, variety: string,
 *   place: string, history: Array, places: Map, trend: object|null}} item
 */
export function findingFull(item) {
  return item.trees.length > 1 ? findingOfMany(item) : findingOfOne(item);
}

function findingOfMany({ alert, trees }) {
  return html`<article class="finding ${alert.level}">
    ${heading(alert)}<p class="soft">${[alert.place, words.trees.count(trees.length)].join(' · ')}</p>
    ${reasons(alert)}<p><strong>${words.finding.advice}</strong> ${alert.advice}</p>${caution(words.caution[alert.caution])}
    <details><summary>${words.finding.which(trees.length)}</summary><ul class="rows">${trees.map(({ tag, tree }) => html`<li>
      ${tree ? html`<a class="row" href="#/tree/${tree.id}">${plate(tag)}</a>` : html`<span class="row">${plate(tag)}</span>`}</li>`)}</ul></details>
  </article>`;
}

function findingOfOne({ alert, tree, variety, place, history, places, trend }) {
  const series = leafSeries(history, places, trend);
  return html`<article class="finding ${alert.level}">
    <div class="between top">${heading(alert)}${plate(alert.tag)}</div>
    <p class="soft">${[variety, place].filter(Boolean).join(' · ')}</p>
    ${reasons(alert)}
    ${BY_LEAVES.includes(alert.kind) && series.points.length > 1 ? chart(series) : nothing}
    ${alert.advice ? html`<p><strong>${words.finding.advice}</strong> ${alert.advice}</p>` : nothing}
    ${caution(words.caution[alert.caution])}
    ${tree ? html`<a class="key" href="#/tree/${tree.id}">${icon('tree')}${words.finding.open}<span class="aside">${alert.tag}</span></a>` : nothing}
  </article>`;
}
