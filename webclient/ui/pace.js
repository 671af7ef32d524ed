// A tree's pace: its leaves a shoot and shoot growth against what trees like it have by then, in words and drawn.
import { html, nothing } from 'lit-html';
import { fromSi, unitLabel } from '../core/units.js';
import { chart } from './chart.js';
import { ageWords, dayOf, noonOf } from './format.js';
import { degreeDays } from './heat.js';
import { words } from './text.js';

const COARSE_FROM = 10;

/** What home says of this tree's pace; null when it says nothing. */
export function paceOf(overview, tree) {
  const tags = new Set([tree.fields.tag, ...(tree.fields.former_tags ?? [])]);
  return overview?.document?.pace?.find((pace) => tags.has(pace.tag)) ?? null;
}

/**
 * What was seen and what was expected by then, of each measure that was counted.
 * @param {object} pace an item of home's pace list
 * @param {object} units those that the grower chose
 * @param {string|null} on the day that home's report speaks of
 * @returns {string[]}
 */
export function paceTexts({ leaves_per_shoot: leaves, shoot_cm: shoots }, units, on) {
  const by = (stand) => (stand.on && stand.on !== on ? dayOf(stand.on) : words.pace.now);
  const told = [];
  if (isTold(leaves)) told.push(words.pace.leaves(...figures(leaves), by(leaves)));
  if (isTold(shoots)) {
    const unit = unitLabel('length', units);
    told.push(words.pace.shoots(...figures(shoots, (cm) => fromSi('length', cm, units)), by(shoots), unit));
  }
  return told;
}

function isTold(stand) {
  return typeof stand?.seen === 'number' && typeof stand.low === 'number';
}

/** The band and what was seen, to a tenth where they are few; never so coarse that what lies outside seems within. */
function figures({ low, high, seen }, shown = (value) => value) {
  const [least, most, found] = [low, high, seen].map(shown);
  const digits = most < COARSE_FROM || Math.round(found) === Math.round(least) || Math.round(found) === Math.round(most) ? 1 : 0;
  return [least, most, found].map((value) => Number(value.toFixed(digits)));
}

/** Why it is said: heat since the tree woke, what the expectation rests on, and how sure it is. */
export function paceReasons(pace, units) {
  if (pace.pace === 'unknown') return pace.why ?? [];
  const heat = words.pace.heat(degreeDays(pace.heat, units), units.temperature);
  const how = pace.evergreen ? 'evergreen' : pace.woke_seen ? 'seen' : 'ofKind';
  const { own_seasons: own, variety_trees: variety, species_trees: species } = pace.rests_on;
  return [words.pace.woke[how](dayOf(pace.woke), heat), pace.guessed_days > 0 && words.pace.guessed(pace.guessed_days),
    words.pace.rests(own, variety, species - variety), words.pace.sure(Math.round(100 * pace.further_on))].filter(Boolean);
}

/**
 * One measure as a chart: dots for counts, the band of what is expected.
 * @param {{counts: Array<object>, band: Array<object>}} drawing of home's page of the tree
 */
function seriesOf({ counts, band }, { shown, unit, axis }) {
  const tenth = (value) => Number(shown(value).toFixed(1));
  const limits = ({ low, high }) => (typeof low === 'number' ? { low: tenth(low), high: tenth(high) } : {});
  return {
    points: counts.map((one) => ({ at: noonOf(one.at), value: tenth(one.seen), ...limits(one) })),
    band: band.map((one) => ({ at: noonOf(one.at), ...limits(one) })),
    from: noonOf(band[0].at), unit, axis, name: axis,
  };
}

/** The measures of which something is expected; counts alone stand in the chart of leaves and in the history. */
function drawings({ leaves_per_shoot: leaves, shoot_cm: shoots }, units) {
  const unit = unitLabel('length', units);
  return [[leaves, { shown: (value) => value, unit: words.pace.leavesUnit, axis: words.pace.leavesAxis }],
    [shoots, { shown: (cm) => fromSi('length', cm, units), unit, axis: words.pace.shootsAxis(unit) }]]
    .filter(([drawn]) => drawn?.band.length > 0).map(([drawn, how]) => chart(seriesOf(drawn, how)));
}

/**
 * The pace on a tree's card.
 * @param {{pace: object|null, drawing: object|null, on: string|null, drawn_at_ms: number|null}} told `drawn_at_ms`: when
 *   home drew it, where that is older than the words
 * @param {object} units
 */
export function pacePart({ pace, drawing, on, drawn_at_ms: drawnAt }, units) {
  if (!pace) return nothing;
  const unknown = pace.pace === 'unknown';
  const reasons = paceReasons(pace, units).map((sentence) => html`<p>${sentence}</p>`);
  return html`<section class="stack tight" id="pace"><details class="opens" ?open=${unknown}><summary><span>${words.pace.title}</span>
      <strong>${words.pace.word[pace.pace]}</strong><span class="more">${words.pace.why}</span></summary>${reasons}</details>
    ${unknown ? nothing : html`<p>${paceTexts(pace, units, on).join(' ')}</p>`}
    ${drawing ? drawings(drawing, units) : nothing}
    ${drawing && drawnAt ? html`<p class="soft">${words.pace.drawnAs(ageWords(drawnAt))}</p>` : nothing}</section>`;
}
