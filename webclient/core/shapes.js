/** The shape of each kind of record: its fields, their types and bounds, and what is wrong with a set of values. */

import { isId } from './ids.js';
import { sayings } from './sayings.js';
import { readTagCode } from './tagcode.js';
import { addDays, dateText, isDate, timeMs } from './time.js';
import { CAUSES, COVERS, DECISIONS, FRUITS, JOBS, PROPAGATIONS, STANDINGS, TASKS } from './vocabularies.js';

/** Longest name, longest short word (soil, position) and longest note, in characters. */
export const NAME_LENGTH_MAX = 120;
export const WORD_LENGTH_MAX = 40;
export const NOTE_LENGTH_MAX = 2000;
/** Most places that one round names. */
export const ROUND_PLACES_MAX = 200;
/** Most trees that one place's walking order names. */
export const WALK_TREES_MAX = 1000;
/** Most shoots of a tree that carry a mark, and most leaves counted on one. */
export const MARKED_SHOOTS_MAX = 12;
const SHOOT_LEAVES_MAX = 500;
/** How far ahead of now a time may lie, so that a phone's clock need not be exact. */
export const AHEAD_MS_MAX = 3_600_000;
/** How many days ahead a reading may lie; such a reading is a forecast. */
export const FORECAST_DAYS_MAX = 16;

// What is not named here may be planned for any day.
const DAYS_AHEAD_MAX = { date: FORECAST_DAYS_MAX, started_on: 1 };
// A line break and a tab can be kept; other control characters cannot.
const CONTROL = /[\x00-\x08\x0b-\x1f\x7f]/;
const HALF_CHARACTER = /\p{Surrogate}/u;

/**
 * @typedef {object} Field
 * @property {'text'|'number'|'int'|'bool'|'date'|'time'|'choice'|'choices'|'counts'|'ref'|'refs'|'tag'|'sha256'|'yearday'|'country'} type
 * @property {boolean} [required] when the record is new
 * @property {number} [min]
 * @property {number} [max] of a number; of a text its length in characters
 * @property {number} [places] most counts of one field of several, or records of one list
 * @property {readonly {value: string, words: string}[]} [of] the choices
 * @property {string} [to] the kind that a reference names
 * @property {'length'|'volume'|'temperature'} [quantity] what is converted for the eye
 */

const name = { type: 'text', max: NAME_LENGTH_MAX };
const word = { type: 'text', max: WORD_LENGTH_MAX };
const note = { type: 'text', max: NOTE_LENGTH_MAX };
const moment = { type: 'time', required: true };
const treeOfFact = { type: 'ref', to: 'tree', required: true };
const roundOfFact = { type: 'ref', to: 'round' };
const latitude = { type: 'number', min: -90, max: 90 };
const percent = { type: 'number', min: 0, max: 100 };
const cuttings = { type: 'int', min: 0, max: 5000 };
const fruits = { type: 'int', min: 0, max: 5000 };
const leaves = { type: 'int', min: 0, max: 100_000 };
const dayTemperature = { type: 'number', min: -60, max: 70, quantity: 'temperature' };

/**
 * Every kind with its fields; `voided`, which withdraws a record, belongs to all of them.
 * @type {Record<string, Record<string, Field>>}
 */
export const KINDS = deepFreeze({
  variety: { variety: { ...name, required: true }, species: name, origin_country: { type: 'country' }, note },
  place: {
    place: { ...name, required: true }, cover: { type: 'choice', of: COVERS }, light_percent: percent,
    heated: { type: 'bool' }, latitude, walk: { type: 'refs', to: 'tree', places: WALK_TREES_MAX }, note,
  },
  tree: {
    tag: { type: 'tag', required: true }, variety: { type: 'ref', to: 'variety' }, place: { type: 'ref', to: 'place' },
    pot_litres: { type: 'number', min: 0.1, max: 2000, quantity: 'volume' }, source: name,
    started_on: { type: 'date' }, standing: { type: 'choice', of: STANDINGS }, position: word,
    marked_shoots: { type: 'int', min: 0, max: MARKED_SHOOTS_MAX }, parent: { type: 'ref', to: 'tree' },
    batch: { type: 'ref', to: 'batch' }, donor_number: name, decision: { type: 'choice', of: DECISIONS },
    decided_on: { type: 'date' }, note,
  },
  batch: {
    batch: { ...name, required: true }, variety: { type: 'ref', to: 'variety' }, parent: { type: 'ref', to: 'tree' },
    method: { type: 'choice', of: PROPAGATIONS }, taken_on: { type: 'date' }, taken: cuttings, rooted: cuttings,
    failed: cuttings, note,
  },
  round: {
    started_at: moment, finished_at: { type: 'time' }, places: { type: 'refs', to: 'place', places: ROUND_PLACES_MAX },
    note,
  },
  observation: {
    tree: treeOfFact, round: roundOfFact, seen_at: moment, shoots: { type: 'int', min: 0, max: 5000 },
    leaves_per_shoot: { type: 'number', min: 0, max: 500 }, leaves, leaves_fallen: leaves,
    shoot_cm: { type: 'number', min: 0, max: 500, quantity: 'length' }, fruit_breba: fruits, fruit_main: fruits,
    damage_percent: percent, causes: { type: 'choices', of: CAUSES }, bbch: { type: 'int', min: 0, max: 99 },
    soil: word, shoot_leaves: { type: 'counts', min: 0, max: SHOOT_LEAVES_MAX, places: MARKED_SHOOTS_MAX },
    leaf_cm2: { type: 'number', min: 0.1, max: 5000 }, part: word, note,
  },
  move: {
    tree: treeOfFact, round: roundOfFact, moved_at: moment, to_place: { type: 'ref', to: 'place', required: true },
  },
  work: {
    tree: treeOfFact, round: roundOfFact, done_at: moment, task: { type: 'choice', of: TASKS, required: true },
    amount: { type: 'number', min: 0, max: 2000 }, note,
  },
  reading: {
    place: { type: 'ref', to: 'place', required: true }, date: { type: 'date', required: true },
    t_min_c: dayTemperature, t_max_c: dayTemperature,
  },
  harvest: {
    tree: treeOfFact, picked_at: moment, fruit: { type: 'choice', of: FRUITS },
    weight_g: { type: 'number', min: 0, max: 100_000 }, quality: { type: 'int', min: 1, max: 5 },
  },
  photo: {
    sha256: { type: 'sha256', required: true }, tree: { type: 'ref', to: 'tree' },
    observation: { type: 'ref', to: 'observation' }, taken_at: moment, note,
  },
  job: {
    job: { ...name, required: true }, key: name, task: { type: 'choice', of: JOBS, required: true },
    tree: { type: 'ref', to: 'tree' }, place: { type: 'ref', to: 'place' }, to_place: { type: 'ref', to: 'place' },
    amount: { type: 'number', min: 0, max: 2000 }, due_on: { type: 'date' }, put_off_to: { type: 'date' },
    done_on: { type: 'date' }, dropped: { type: 'bool' }, note,
  },
  lesson: {
    lesson: { ...note, required: true }, variety: { type: 'ref', to: 'variety' }, place: { type: 'ref', to: 'place' },
    tree: { type: 'ref', to: 'tree' }, on_day: { type: 'yearday' }, degree_days: { type: 'number', min: 0, max: 10_000 },
    task: { type: 'choice', of: TASKS }, learned_on: { type: 'date' }, heeded_on: { type: 'date' },
  },
});

/** The field that says when a fact happened. */
export const MOMENT_FIELD = Object.freeze({
  round: 'started_at', observation: 'seen_at', move: 'moved_at', work: 'done_at', reading: 'date', harvest: 'picked_at',
  photo: 'taken_at',
});

/** The kinds that a helper may write; an owner writes all. */
export const HELPER_KINDS = Object.freeze(['round', 'observation', 'move', 'work', 'reading', 'harvest', 'photo', 'job']);

/** @typedef {{field: string, message: string}} Problem */

/**
 * What is wrong with the values that a change would set; an empty list when nothing is.
 * @param {string} kind
 * @param {Record<string, unknown>} set field → value; null clears
 * @param {{before?: Record<string, unknown> | null, now_ms?: number}} [options]
 *   `before`: the record's values before the change; leave out for a new record
 * @returns {Problem[]}
 */
export function problemsOf(kind, set, { before = null, now_ms = Date.now() } = {}) {
  const shape = KINDS[kind];
  if (!shape) return [{ field: 'kind', message: sayings.noKind(kind) }];
  const problems = [];
  for (const [field, value] of Object.entries(set)) {
    const message = messageFor(field === 'voided' ? { type: 'bool' } : shape[field], field, value, now_ms);
    if (message) problems.push({ field, message });
  }
  for (const [field, rule] of Object.entries(shape)) {
    if (before === null && rule.required && !(field in set)) problems.push({ field, message: sayings.fill });
  }
  const after = { ...before, ...set };
  if (kind === 'reading' && !after.voided) problems.push(...temperatureProblems(after));
  return problems;
}

function temperatureProblems({ t_min_c = null, t_max_c = null }) {
  if (t_min_c === null && t_max_c === null) {
    return [{ field: 't_min_c', message: sayings.oneTemperature }];
  }
  if (typeof t_min_c !== 'number' || typeof t_max_c !== 'number' || t_min_c <= t_max_c) return [];
  return [{ field: 't_max_c', message: sayings.crossed }];
}

function messageFor(rule, field, value, now_ms) {
  if (!rule) return sayings.noField(field);
  if (value === null) return rule.required ? sayings.notEmpty : '';
  return CHECKS[rule.type](rule, value, now_ms, field);
}

const CHECKS = {
  text: checkText,
  number: checkNumber,
  int: (rule, value) => (Number.isInteger(value) ? checkNumber(rule, value) : sayings.whole),
  bool: (rule, value) => (typeof value === 'boolean' ? '' : sayings.yesOrNo),
  date: checkDate,
  time: checkTime,
  choice: (rule, value) => (isChoice(rule, value) ? '' : sayings.oneOf(valuesOf(rule))),
  choices: checkChoices,
  counts: checkCounts,
  ref: (rule, value) => (isId(value) ? '' : sayings.record(rule.to)),
  refs: checkRefs,
  tag: checkTag,
  yearday: (rule, value) => (isDate(`2000-${value}`) ? '' : sayings.monthDay),
  country: (rule, value) => (/^[A-Z]{3}$/.test(value) ? '' : sayings.country),
  sha256: (rule, value) => (/^[0-9a-f]{64}$/.test(value) ? '' : sayings.noHash),
};

function checkText(rule, value) {
  if (typeof value !== 'string') return sayings.text;
  if (rule.required && value.trim() === '') return sayings.fill;
  if (CONTROL.test(value) || HALF_CHARACTER.test(value)) {
    return sayings.characters;
  }
  return [...value].length <= rule.max ? '' : sayings.shorten(rule.max);
}

function checkNumber(rule, value) {
  if (typeof value !== 'number' || !Number.isFinite(value)) return sayings.number;
  return value >= rule.min && value <= rule.max ? '' : sayings.between(rule.min, rule.max);
}

function checkDate(rule, value, now_ms, field) {
  if (!isDate(value)) return sayings.day;
  const days = DAYS_AHEAD_MAX[field];
  return days === undefined || value <= addDays(dateText(now_ms), days) ? '' : sayings.daysAhead(days);
}

function checkTime(rule, value, now_ms) {
  const at_ms = timeMs(value);
  if (at_ms === null) return sayings.time;
  return at_ms <= now_ms + AHEAD_MS_MAX ? '' : sayings.future;
}

function checkChoices(rule, value) {
  const parts = typeof value === 'string' ? value.split(';') : [];
  const good = parts.length > 0 && new Set(parts).size === parts.length && parts.every((part) => isChoice(rule, part));
  return good ? '' : sayings.someOf(valuesOf(rule));
}

/** Whole numbers in an order that stays, as `5;6;;7`; an empty place is a shoot that was not found. */
function checkCounts(rule, value) {
  const parts = typeof value === 'string' ? value.split(';').map((part) => part.trim()) : [];
  const good = parts.every((part) => part === '' || (/^\d{1,6}$/.test(part) && Number(part) <= rule.max));
  if (parts.some((part) => part !== '') && parts.length <= rule.places && good) return '';
  return sayings.counts(rule.min, rule.max, rule.places);
}

function checkRefs(rule, value) {
  if (!Array.isArray(value) || !value.every(isId)) return sayings.records(rule.to);
  return value.length <= rule.places ? '' : sayings.most(rule.places);
}

function checkTag(rule, value) {
  const reading = readTagCode(value);
  if (reading.error === 'check') return sayings.tagCheck;
  return reading.code === value ? '' : sayings.tagForm;
}

function isChoice(rule, value) {
  return rule.of.some((choice) => choice.value === value);
}

function valuesOf(rule) {
  return rule.of.map((choice) => choice.value).join(', ');
}

function deepFreeze(value) {
  if (typeof value === 'object' && value !== null && !Object.isFrozen(value)) {
    Object.values(value).forEach(deepFreeze);
    Object.freeze(value);
  }
  return value;
}
