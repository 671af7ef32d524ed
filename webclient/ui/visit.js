// One visit to a tree as a form: its fields, what the last visit found, and what "as last time" notes.
import { KINDS } from '../core/shapes.js';
import { timeText } from '../core/time.js';
import { formatQuantity, formatNumber, unitLabel } from '../core/units.js';
import { CAUSES, SOILS, STAGES, wordsFor } from '../core/vocabularies.js';
import { readForm, textOf } from './fields.js';
import { daysSince, shortDay } from './format.js';
import { shootsText } from './shoots.js';
import { words } from './text.js';

/** The counted fields in the order of the form; steps in the unit that is shown. */
export const COUNTED = [
  { name: 'leaves_fallen', step: 1, decimals: 0 },
  { name: 'leaves_per_shoot', step: 0.5, decimals: 1 },
  { name: 'shoots', step: 1, decimals: 0 },
  { name: 'leaves', step: 1, decimals: 0 },
  { name: 'shoot_cm', step: 1, decimals: 1, steps: { in: 0.5 } },
  { name: 'fruit_breba', step: 1, decimals: 0 },
  { name: 'fruit_main', step: 1, decimals: 0 },
  { name: 'damage_percent', step: 5, decimals: 0 },
];

/** The stages by their two-figure code and their words. */
export const stageChoices = () => STAGES.map((stage) => ({ value: stage.value, words: `${String(stage.value).padStart(2, '0')} ${stage.words}` }));

/** The counts on marked shoots; on a tree that has some they stand in the place of the leaves a shoot. */
const MARKED = 'shoot_leaves';
const SAMPLED = 'leaves_per_shoot';

/** All fields of the form. */
export const VISIT_FIELDS = [...COUNTED.map((field) => field.name), MARKED, 'leaf_cm2', 'causes', 'bbch', 'soil', 'part', 'note'];

/** What "as last time" repeats: what a look takes in. A leaf or a shoot that nobody counted is not recorded as a count. */
const REPEATED = ['fruit_breba', 'fruit_main', 'damage_percent', 'causes', 'bbch'];

/** What the form can take over from the last visit, there to be read and corrected before it is saved. */
const FILLED = ['shoots', SAMPLED, MARKED, 'leaves', 'shoot_cm', ...REPEATED];

/** Counts older than this are not repeated: a tree grows on, so only "nothing fallen" is noted. */
export const REPEAT_DAYS_MAX = 14;

/** The values that one press on "nothing fallen, as last time" records. */
export function asLastTime(latest, now_ms = Date.now()) {
  return { leaves_fallen: 0, ...valuesOf(latest, REPEATED, now_ms) };
}

function valuesOf(latest, names, now_ms) {
  const set = {};
  if (!latest?.seen_at_ms || daysSince(latest.seen_at_ms, now_ms) > REPEAT_DAYS_MAX) return set;
  for (const name of names) if (latest.fields[name] !== undefined && latest.fields[name] !== null) set[name] = latest.fields[name];
  return set;
}

/** Whether anything stands in the form. */
export function isTouched(texts, photos) {
  return photos.length > 0 || Object.values(texts).some((text) => text !== '');
}

/** The last value of a field beside its box, with its day when that was not the last visit. */
export function lastText(name, latest, units) {
  const known = latest?.known?.[name];
  if (!known) return words.visit.noLast;
  const text = valueText(name, known.value, units);
  return known.at_ms === latest.seen_at_ms ? words.visit.last(text) : words.visit.lastOn(text, shortDay(known.at_ms));
}

/** One value in words, with its unit. */
export function valueText(name, value, units) {
  const rule = KINDS.observation[name];
  if (rule.quantity) return formatQuantity(rule.quantity, value, units);
  if (name === 'damage_percent') return `${formatNumber(value, 0)} %`;
  if (name === 'bbch') return wordsFor(STAGES, value);
  if (name === 'causes') return value.split(';').map((one) => wordsFor(CAUSES, one)).join(', ');
  if (name === 'soil') return wordsFor(SOILS, value);
  if (name === MARKED) return shootsText(value);
  return typeof value === 'number' ? formatNumber(value, 1) : String(value);
}

/** A visit in a few words, for lists; the words stand in the order of the form. */
export function visitSummary(fields, units) {
  return VISIT_FIELDS.filter((name) => fields[name] !== undefined && fields[name] !== null && fields[name] !== '')
    .map((name) => (name === 'note' ? fields.note : words.visit.short(name, valueText(name, fields[name], units))))
    .join(' · ');
}

/** What the counter rows need, in the shown unit. */
export function counterField(spec, { texts, problems, latest, units }) {
  const rule = KINDS.observation[spec.name];
  const known = latest?.known?.[spec.name];
  const unit = rule.quantity ? unitLabel(rule.quantity, units) : '';
  const shown = (value) => Number(textOf('observation', spec.name, value, units));
  return {
    name: spec.name, text: texts[spec.name] ?? '', decimals: spec.decimals, from: 0, min: 0,
    label: unit ? `${words.field[spec.name]}, ${unit}` : words.field[spec.name],
    step: spec.steps?.[unit] ?? spec.step, max: rule.quantity ? Math.floor(shown(rule.max)) : rule.max,
    last: known && spec.name !== 'leaves_fallen' ? shown(known.value) : null, lastText: lastText(spec.name, latest, units),
    error: problems.find((problem) => problem.field === spec.name)?.message,
  };
}

/** How many shoots of a tree are marked, for the form; what stands in it already is not hidden. */
export function markedOn(tree, texts) {
  return texts[SAMPLED] ? 0 : (tree.fields.marked_shoots ?? 0);
}

/** What the row of marked shoots needs. */
export function shootsField(marked, { texts, problems, latest }) {
  return {
    marked, text: texts[MARKED] ?? '', last: latest?.known?.[MARKED]?.value ?? '',
    error: problems.find((problem) => problem.field === MARKED)?.message,
    unknown: !latest?.known?.shoots && !texts.shoots && !texts.leaves,
  };
}

/** The texts of the last visit, to be corrected where the tree has changed. */
export function lastTexts(latest, units, marked) {
  const names = FILLED.filter((name) => name !== (marked ? SAMPLED : MARKED));
  return Object.fromEntries(Object.entries(valuesOf(latest, names, Date.now()))
    .map(([name, value]) => [name, textOf('observation', name, value, units)]));
}

/** Reads the form into the values of an observation; see `readForm`. */
export function readVisit(texts, tree, units, seenAt_ms = Date.now()) {
  const given = { tree, seen_at: timeText(seenAt_ms) };
  const { set, problems } = readForm('observation', texts, { units, given });
  return { set: { ...given, ...set }, problems };
}
