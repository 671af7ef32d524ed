// A place's heat and chill as home sums them from its thermometer, with what was missing.
import { html, nothing } from 'lit-html';
import { formatQuantity, fromSi } from '../core/units.js';
import { dayOf } from './format.js';
import { words } from './text.js';

/** Sums of days times degrees in the grower's unit; they grow with its step, but have no offset. */
export function degreeDays(value, units) {
  return Math.round(value * (fromSi('temperature', 1, units) - fromSi('temperature', 0, units)));
}

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
    ${rows.length === 0 ? html`<p class="soft">${words.heat.none}</p>` : html`<ul class="rows">${rows.map(([name, value, from]) => html`<li class="entry">
      <p>${name}<br><span class="soft">${from ? words.finding.since(dayOf(from)) : words.heat.week}</span></p><strong class="figure">${value}</strong></li>`)}</ul>
      <p class="soft">${words.heat.rests(item.days, item.filled, item.missing)}</p>`}</section>`;
}
