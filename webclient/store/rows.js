/**
 * The stored form of a record: what was last pulled (the base) overlaid with this phone's own unsent changes, in order.
 * A row holds `fields` (the view) always, and `base` and `own` only while there are unsent changes.
 */

import { MOMENT_FIELD } from '../core/shapes.js';
import { timeMs } from '../core/time.js';

const POTTINGS = ['pot_up', 'pot_down'];

/**
 * @typedef {object} Row
 * @property {string} id
 * @property {Record<string, any>} fields
 * @property {Record<string, any> | null} [base]
 * @property {{change: string, n: number, set: Record<string, any>}[]} [own]
 * @property {number} generation which full pull last confirmed it
 * @property {boolean} [mine] first written on this phone
 */

/**
 * Builds a row, with the values that its indexes need lifted out; a withdrawn record gets none, so no index finds it.
 * @param {string} kind
 * @param {{id: string, base: object | null, own: {change: string, n: number, set: object}[], generation: number,
 *   mine?: boolean}} parts
 * @returns {Row | null} null when nothing is left of the record
 */
export function buildRow(kind, { id, base, own, generation, mine }) {
  if (base === null && own.length === 0) return null;
  const fields = overlay(base ?? {}, own.map((change) => change.set));
  const row = { id, fields, generation };
  if (own.length > 0) Object.assign(row, { base, own });
  if (mine) row.mine = true;
  return fields.voided ? row : Object.assign(row, indexedValues(kind, fields));
}

/**
 * Fields with changes laid over them in order; null clears a field, and what is not recorded is left out.
 * @param {Record<string, any>} base
 * @param {Record<string, any>[]} sets
 * @returns {Record<string, any>}
 */
export function overlay(base, sets) {
  const fields = Object.assign({}, base, ...sets);
  for (const [field, value] of Object.entries(fields)) {
    if (value === null || value === undefined || (field === 'voided' && value === false)) delete fields[field];
  }
  return fields;
}

/**
 * The parts that `buildRow` takes, from a stored row; of a record that is not stored yet, those of an empty one.
 * @param {string} id
 * @param {Row | undefined} row
 * @param {number} generation
 */
export function partsOf(id, row, generation) {
  if (!row) return { id, base: null, own: [], generation };
  const own = row.own ?? [];
  return { id, base: own.length > 0 ? row.base : row.fields, own, generation: row.generation, mine: row.mine };
}

/** The row as screens get it. @returns {import('./types.js').RecordView} */
export function viewOf(kind, row) {
  return { kind, id: row.id, fields: row.fields, unsent: row.own?.length ?? 0, at_ms: momentOf(kind, row.fields) };
}

/** When the fact happened, in milliseconds since 1970; null for cards. */
export function momentOf(kind, fields) {
  const field = MOMENT_FIELD[kind];
  if (!field) return null;
  return kind === 'reading' ? Date.parse(`${fields[field]}T00:00:00Z`) || null : timeMs(fields[field]);
}

function indexedValues(kind, fields) {
  const values = {};
  const at_ms = momentOf(kind, fields);
  if (at_ms !== null) values.at_ms = at_ms;
  if (fields.tree && kind !== 'tree') values.tree = fields.tree;
  if (fields.round) values.round = fields.round;
  if (POTTINGS.includes(fields.task) && typeof fields.amount === 'number' && at_ms !== null) values.potted_ms = at_ms;
  return values;
}
