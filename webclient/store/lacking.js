/**
 * Refused changes that name a record which home lacked, as after a restored backup while another phone has not brought
 * it back yet: they go out again by themselves once home is known to have it.
 */

import { KINDS } from '../core/shapes.js';
import { touch } from './derived.js';
import { buildRow, partsOf } from './rows.js';
import { answerOf, bareStore } from './transaction.js';

/** A change that home refuses so often for what it should have waits for the grower. */
export const SENT_AGAIN_MAX = 5;

/**
 * The records whose absence home complains of: those that a field at fault names; and its own, where home takes an
 * edit for a new record that is not filled in.
 * @param {import('./types.js').Change} change
 * @param {import('./types.js').Problem} problem
 * @returns {{kind: string, id: string}[]}
 */
export function lackedBy({ kind, record, set }, problem) {
  const lacked = [];
  for (const { field } of problem.errors ?? []) {
    const { type, to, required } = KINDS[kind]?.[field] ?? {};
    if (required && !(field in set)) lacked.push({ kind, id: record });
    if (set[field] && (type === 'ref' || type === 'refs')) {
      lacked.push(...[set[field]].flat().map((id) => ({ kind: to, id })));
    }
  }
  return lacked;
}

/**
 * Sends those again whose lacking records are home now: under their own ids, for home judges anew what it refused for
 * the absence of a record, and must know again what another backup of it may hold already.
 * @param {import('idb').IDBPTransaction} tx over SYNCED_STORES
 * @param {number} generation
 * @param {{trees: Set<string>, cards: Set<string>}} touched
 * @returns {Promise<number>} how many go again
 */
export async function sendNoLongerLacking(tx, generation, touched) {
  const parked = bareStore(tx, 'parked');
  const waiting = (await answerOf(parked.getAll())).filter(({ lacks }) => lacks?.length > 0);
  let count = 0;
  for (const { id, change, lacks, saved_at_ms, again = 0 } of waiting.sort((a, b) => a.change.n - b.change.n)) {
    const found = await Promise.all(lacks.map((each) => isHome(tx, each, generation)));
    if (again >= SENT_AGAIN_MAX || found.includes(false)) continue;
    parked.delete(id);
    bareStore(tx, 'outbox').put({ ...change, saved_at_ms, again: again + 1 });
    await overlayAgain(tx, change, generation, touched);
    count += 1;
  }
  return count;
}

async function overlayAgain(tx, { id, n, kind, record, set }, generation, touched) {
  const rows = bareStore(tx, kind);
  const row = await answerOf(rows.get(record));
  const parts = partsOf(record, row, generation);
  const own = [...parts.own, { change: id, n, set }].sort((a, b) => a.n - b.n);
  const after = buildRow(kind, { ...parts, own });
  touch(touched, kind, row);
  touch(touched, kind, after);
  rows.put(after);
}

/** Home has what was pulled from it, or what it took in, since it last became another. */
async function isHome(tx, { kind, id }, generation) {
  const row = await answerOf(bareStore(tx, kind).get(id));
  return row !== undefined && row.generation >= generation && partsOf(id, row, generation).base !== null;
}
