// A place's heat and chill as home sums them from its thermometer, with what was missing.
import { html, nothing } from 'lit-html';
import { addDays, dateText } from '../core/time.js';
import { formatQuantity, fromSi } from '../core/units.js';
import { dayOf } from './format.js';
import { words } from './text.js';

/** Sums of days times degrees in the grower's unit; they grow with its step, but have no offset. */
export function degreeDays(value, units) {
  return Math.round(value * (fromSi('temperature', 1, units) - fromSi('temperature', 0, units)));
}

const daysBack = (days) => addDays(dateText(), -days);

/** Light and cold at a glance: what the phone itself knows, so that it stands there without signal. */
export function glancePart({ light_percent: light }, readings, units) {
  const say = words.place.glance;
  const nights = readings.map(({ fields }) => fields).filter(({ t_min_c: low, date }) => typeof low === 'number' && date > daysBack(365));
  const lowest = (some) => some.reduce((least, one) => (least && least.t_min_c <= one.t_min_c ? least : one), null);
  const row = (name, night) => night && [name, `${dayOf(night.date)}${night.t_min_c <= 0 ? `, ${say.frost}` : ''}`, formatQuantity('temperature', night.t_min_c, units)];
  const past = nights.filter(({ date }) => date <= daysBack(0));
  const rows = [
    light != null && [say.light, say.lets, `${light} %`],
    row(say.lowest, lowest(past.filter(({ date }) => date > daysBack(7)))),
    row(say.ahead, lowest(nights.filter(({ date }) => date > daysBack(0)))),
    past.length && [say.frosts, say.of(past.length), past.filter(({ t_min_c: low }) => low <= 0).length],
  ].filter(Boolean);
  return rows.length ? html`<section class="stack tight" id="glance"><h2>${say.title}</h2>${figureRows(rows)}</section>` : nothing;
}

const figureRows = (rows) => html`<ul class="rows">${rows.map(([name, below, value]) => html`<li class="entry"><p>${name}<br><span class="soft">${below}</span></p><strong class="figure">${value}</strong></li>`)}</ul>`;

/**
 * @param {object|null} item a place's item of home's heat report
 * @param {object} units those that the grower chose
 */
export function heatPart(item, units) {
  if (!item) return nothing;
  const rows = [
    item.degree_days !== null && [words.heat.degreeDays(units.temperature), degreeDays(item.degree_days, units), item.from],
    item.chill_hours !== null && [words.heat.chillHours(units.temperature), Math.round(item.chill_hours), item.chill_from],
    item.chill_units_peak !== null && [words.heat.chillUnits, Math.round(item.chill_units_peak), item.chill_from],
    Number.isFinite(item.water_week_cm) && [words.heat.water, formatQuantity('length', item.water_week_cm, units), null],
  ].filter(Boolean);
  return html`<section class="stack tight" id="heat"><h2>${words.heat.title}</h2>
    ${rows.length === 0 ? html`<p class="soft">${words.heat.none}</p>` : html`${figureRows(rows.map(([name, value, from]) => [name, from ? words.finding.since(dayOf(from)) : words.heat.week, value]))}
      <p class="soft">${words.heat.rests(item.days, item.filled, item.missing)}</p>`}</section>`;
}
