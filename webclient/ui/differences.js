// What one shelter changes against another, put into words in the grower's units, and the order in which it is shown.
import { formatNumber, fromSi, unitLabel } from '../core/units.js';
import { COVERS, wordsFor } from '../core/vocabularies.js';
import { words } from './text.js';

export const MEASURES = ['growth_cm', 'leaves', 'fruit', 'yield_g', 'days_to_ripeness', 'days_to_ripeness_breba'];
const FROM_WHOLE = 10;

/** A difference as it is shown: cm become the grower's unit of length, anything else stays. */
export function shownValue(measure, value, units) {
  return measure === 'growth_cm' ? fromSi('length', value, units) : value;
}

/** The unit at the axis. */
export function unitOf(measure, units) {
  const { noun } = words.shelters.measures[measure];
  if (measure === 'growth_cm') return unitLabel('length', units);
  return words.shelters.unit[noun ?? (measure === 'yield_g' ? 'g' : 'days')];
}

/** A size without direction: tenths where it is small, grams whole. */
function size(measure, value, units) {
  const shown = Math.abs(shownValue(measure, value, units));
  return formatNumber(shown, measure === 'yield_g' || shown >= FROM_WHOLE ? 0 : 1);
}

function withUnit(measure, text, units) {
  if (measure === 'growth_cm') return `${text} ${unitLabel('length', units)}`;
  if (measure === 'yield_g') return `${text} g`;
  return measure.startsWith('days') ? `${text} ${text === '1' ? 'day' : 'days'}` : text;
}

/** `12 cm more`, `60 fewer leaves`, `20 days earlier`. */
export function amountText(measure, value, units) {
  const { more, less, noun } = words.shelters.measures[measure];
  const text = size(measure, value, units);
  if (text === '0') return words.shelters.same;
  const word = value > 0 ? more : less;
  return noun ? `${text} ${word} ${noun}` : `${withUnit(measure, text, units)} ${word}`;
}

/** `between 8 and 15 cm more`; across nought each end says its direction. */
export function boundsText(measure, low, high, units) {
  const { more, less } = words.shelters.measures[measure];
  const unit = (value) => withUnit(measure, size(measure, value, units), units);
  if (low < 0 && high > 0) return words.shelters.between(`${unit(low)} ${less}`, `${unit(high)} ${more}`);
  const [near, far] = Math.abs(low) < Math.abs(high) ? [low, high] : [high, low];
  return words.shelters.between(size(measure, near, units), `${unit(far)} ${low + high > 0 ? more : less}`);
}

/** `glasshouse against porch` */
export function pairText({ shelter, against, head_start_days: days }) {
  if (typeof days === 'number') return words.shelters.headStart(days);
  return sentenceCase(words.shelters.pair(wordsFor(COVERS, shelter), wordsFor(COVERS, against)));
}

/** The difference as a whole sentence: `In a glasshouse: 12 cm more growth than in a porch`. */
export function saying(item, units) {
  const { said = (amount) => amount } = words.shelters.measures[item.measure];
  const amount = said(amountText(item.measure, item.difference, units));
  const { head_start_days: days } = item;
  if (typeof days === 'number') return words.shelters.than(words.shelters.withHeadStart(days), amount, words.shelters.without);
  return words.shelters.than(words.shelters.inShelter[item.shelter], amount, words.shelters.inShelter[item.against]);
}

/** Why a difference can't be told: `few` trees on a side, all `alike`, or a band across nought (`spread`); '' where it can. */
export function doubt(item, trees_a_side_min) {
  if (item.told !== 'unknown') return '';
  if (Math.min(item.trees_shelter, item.trees_against) < trees_a_side_min) return 'few';
  return item.difference === null ? 'alike' : 'spread';
}

/** What can be told first, the largest difference on top; then what can't, where most trees stand on both sides. */
export function inOrder(items) {
  const least = (item) => Math.min(item.trees_shelter, item.trees_against);
  return [...items].sort((a, b) => (a.told === 'unknown') - (b.told === 'unknown')
    || (a.told === 'unknown' ? least(b) - least(a) : 0)
    || Math.abs(b.difference ?? 0) - Math.abs(a.difference ?? 0));
}

export const pairKey = (item) => `${item.shelter}|${item.against}`;

export function sentenceCase(text) {
  return `${text[0].toUpperCase()}${text.slice(1)}`;
}
