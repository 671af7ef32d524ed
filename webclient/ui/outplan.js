// One plan of bringing trees out: its days, the light it means, why it goes at its pace, and what to watch.
import { html, nothing } from 'lit-html';
import { dateText } from '../core/time.js';
import { formatQuantity } from '../core/units.js';
import { dayOf } from './format.js';
import { plate } from './plate.js';
import { words } from './text.js';

const SHOWN_MAX = 6;

/**
 * @param {object} item of home's hardening report
 * @param {{trees: Map<string, object>, units: object, alone: boolean}} around `alone`: the only tree that was asked for
 */
export function planPart(item, { trees, units, alone }) {
  return html`<article class="stack tight">
    ${item.place ? html`<h2>${words.out.way(item.place, item.target)}</h2>` : nothing}
    ${alone ? nothing : whom(item, trees)}
    ${item.outcome === 'harden' ? steps(item, units) : html`<p class="figure">${words.out.outcome[item.outcome]}</p><p>${item.why.join(' ')}</p>${watch(item, units)}`}</article>`;
}

/** The trees of one line; one that home does not know goes by what this phone knows of it. */
function whom(item, trees) {
  const links = item.trees.map(({ tag, tree }) => html`<li><a class="row" href="#/tree/${tree}">${plate(tag || trees.get(tree)?.fields.tag || '')}</a></li>`);
  if (links.length <= SHOWN_MAX) return html`<ul class="keys">${links}</ul>`;
  return html`<details><summary>${words.out.which(links.length)}</summary><ul class="keys">${links}</ul></details>`;
}

/** How long it takes: days of carrying, without those that are waited out in the cold, and the last, which is for good. */
function lasting({ days, arrives_on: arrives }) {
  const count = words.out.days(days.length - (arrives ? 1 : 0));
  return arrives ? words.out.lasts(count, dayOf(arrives)) : words.out.noEnd(count);
}

function steps(item, units) {
  const today = dateText();
  const gone = item.days.filter((day) => day.on < today);
  const now = item.days.find((day) => day.on === today);
  return html`${now ? html`<p class="figure step">${words.out.todays(dayText(now, item, units))}</p>` : nothing}
    <p class="soft">${lasting(item)}</p>
    ${gone.length ? html`<details><summary>${words.out.earlier(gone.length)}</summary>${dayRows(gone, item, units, today)}</details>` : nothing}
    ${dayRows(item.days.filter((day) => day.on >= today), item, units, today)}
    <p class="soft">${words.out.columns(item.target)}</p>
    ${watch(item, units)}
    <h3>${words.out.whyTitle}</h3><p>${item.why.join(' ')}</p>
    <h3>${words.out.lightTitle}</h3><p>${lightText(item.place, item.before)} ${lightText(item.target, item.after)}</p>`;
}

function dayRows(days, item, units, today) {
  return html`<ul class="days">${days.map((day) => html`<li aria-current=${day.on === today ? 'date' : nothing}>
    <span class="when">${day.on === today ? words.out.today : dayOf(day.on)}</span>
    <span class="grow">${day.held || day.on === item.arrives_on ? dayText(day, item, units) : day.place}</span>
    <span>${day.sun_place ? words.out.sunHours(day.sun_hours) : nothing}</span> <span class="mol">${words.out.mol(Math.round(day.light_mol))}</span></li>`)}</ul>`;
}

/**
 * Where the trees stand on one day, in words.
 * @param {object} day of home's plan
 * @param {object} item the plan
 * @param {object} units those that the grower chose
 */
export function dayText(day, item, units) {
  if (day.held) {
    const forecast = formatQuantity('temperature', day.cold_c, units, { decimals: 0 });
    return day.cold_night ? words.out.coldNight(day.place, forecast) : words.out.coldDay(day.place, forecast);
  }
  if (day.on === item.arrives_on) return words.out.forGood(day.place);
  return day.sun_place ? words.out.sun(day.place, words.out.hours(day.sun_hours), day.sun_place) : words.out.allDay(day.place);
}

function lightText(place, { mol, percent }) {
  return words.out.light(place, Math.round(mol), percent);
}

/** When to stop: a night that comes near harm, or leaves that show it. */
function watch(item, units) {
  if (typeof item.night_min_c !== 'number') return nothing;
  const limit = formatQuantity('temperature', item.night_min_c, units, { decimals: 0 });
  return html`<h3>${words.out.watchTitle}</h3><p>${words.out.nights(limit)} ${item.outcome === 'harden' ? words.out.leaves : ''}</p>`;
}
