/**
 * Refused changes that name a record which home lacked, as after a restored backup while another phone has not brought
 * it back yet: they go out again by themselves once home is known to have it.
 */

import { newId } from '../core/ids.js';
import { KINDS } from '../core/shapes.js';
import { buildRow, partsOf } from './rows.js';
import { touch } from './derived.js';
import { answerOf, bareStore } from './transaction.js';

/**
 * The records without which home had to refuse a change: those that it names, and its own when it only edits.
 * @param {import('idb').IDBPTransaction} tx over SYNCED_STORES
 * @param {import('./types.js').Change} change
 * @param {number} generation
 * @returns {Promise<{kind: string, id: string}[]>}
 */
export async function lackedBy(tx, { kind, record, set }, generation) {
  const named = [];
  let creates = true;
  for (const [field, { type, to, required }] of Object.entries(KINDS[kind] ?? {})) {
    if (required && !(field in set)) creates = false;
    const ids = set[field] && (type === 'ref' || type === 'refs') ? [set[field]].flat() : [];
    named.push(...ids.map((id) => ({ kind: to, id })));
  }
  if (!creates) named.push({ kind, id: record });
  const found = await Promise.all(named.map((each) => isHome(tx, each, generation)));
  return named.filter((each, place) => !found[place]);
}

/**
 * Sends those again whose lacking records are home now, each as a new change, since home never takes back an outcome.
 * @param {import('idb').IDBPTransaction} tx over SYNCED_STORES
 * @param {number} generation
 * @param {{trees: Set<string>, cards: Set<string>}} touched
 * @returns {Promise<number>} how many go again
 */
export async function sendNoLongerLacking(tx, generation, touched) {
  const parked = bareStore(tx, 'parked');
  const waiting = (await answerOf(parked.getAll())).filter(({ lacks }) => lacks?.length > 0);
  let count = 0;
  for (const { id, change, lacks, saved_at_ms } of waiting.sort((a, b) => a.change.n - b.change.n)) {
    const found = await Promise.all(lacks.map((each) => isHome(tx, each, generation)));
    if (found.includes(false)) continue;
    const again = { ...change, id: newId() };
    parked.delete(id);
    bareStore(tx, 'outbox').put({ ...again, saved_at_ms });
    await overlayAgain(tx, again, generation, touched);
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
