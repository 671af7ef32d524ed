/** Takes in one answer from home: outcomes, pulled records, cursor and epoch, all in one transaction. */

import { nothingTouched, refreshTouched, touch } from './derived.js';
import { buildRow, overlay, partsOf } from './rows.js';
import { RECORD_STORES } from './schema.js';

/** How many sent changes are kept, to be offered again when home was restored from a backup. */
export const SENT_KEPT_MAX = 2000;

/**
 * @param {import('idb').IDBPTransaction} tx over SYNCED_STORES
 * @param {import('./types.js').SyncAnswer} answer
 * @param {{epoch: string | null, cursor: string | null, changes: import('./types.js').Change[]}} request
 * @param {number} now_ms
 * @returns {Promise<import('./types.js').Applied>}
 */
export async function takeAnswer(tx, answer, request, now_ms) {
  const settings = tx.objectStore('settings');
  const [epoch, cursor, stored] = await Promise.all(['epoch', 'cursor', 'generation'].map((key) => settings.get(key)));
  const epochChanged = epoch !== undefined && epoch !== answer.epoch;
  const generation = (stored ?? 0) + (epochChanged ? 1 : 0);
  const touched = nothingTouched();
  if (epochChanged) await beginEpoch(tx, generation, touched);
  await settings.put(answer.epoch, 'epoch');
  const outcomes = await takeResults(tx, answer.results, request.changes, { generation, touched, now_ms });
  // Records that were asked for from another place than this phone now stands at would leave a gap.
  const fits = !epochChanged && (epoch ?? null) === request.epoch && (cursor ?? null) === request.cursor;
  if (fits) {
    await takeRecords(tx, answer.records, generation, touched);
    await settings.put(answer.cursor, 'cursor');
    if (!answer.more && (await settings.get('sweep_due'))) await sweep(tx, generation, touched);
  }
  await settings.put(now_ms, 'last_contact_ms');
  await refreshTouched(tx, touched);
  return { ...outcomes, pulled: fits ? answer.records.length : 0, epochChanged };
}

/**
 * Home was restored from a backup: everything is pulled afresh and recent sent changes and photos are offered again.
 * What was pulled before stays readable until the new pull is complete; then `sweep` drops what home no longer has.
 */
async function beginEpoch(tx, generation, touched) {
  const settings = tx.objectStore('settings');
  await Promise.all([
    settings.put(generation, 'generation'), settings.put(true, 'sweep_due'), settings.delete('cursor'),
    settings.delete('overview'),
  ]);
  const again = await tx.objectStore('sent').getAll();
  await tx.objectStore('sent').clear();
  for (const change of again) {
    await tx.objectStore('outbox').put(change);
    const rows = tx.objectStore(change.kind);
    const row = await rows.get(change.record);
    const parts = partsOf(change.record, row, generation);
    const own = [...parts.own, { change: change.id, n: change.n, set: change.set }].sort((a, b) => a.n - b.n);
    await putRow(rows, change.kind, row, { ...parts, own }, touched);
  }
  const photos = tx.objectStore('photos');
  for (const photo of await photos.index('state').getAll('sent')) {
    if (photo.kept) await photos.put({ ...photo, state: 'waiting', tries: 0, next_try_at_ms: 0 });
  }
}

async function takeResults(tx, results, sent, { generation, touched, now_ms }) {
  const changes = new Map(sent.map((change) => [change.id, change]));
  const counts = { stored: 0, refused: 0 };
  for (const result of results) {
    const change = changes.get(result.id);
    const entry = change && (await tx.objectStore('outbox').get(change.n));
    // Another tab may have taken in the same outcome already.
    if (!entry || entry.id !== change.id) continue;
    await tx.objectStore('outbox').delete(change.n);
    const refused = result.outcome === 'refused';
    if (refused) await park(tx, entry, result.problem ?? {}, now_ms);
    else await tx.objectStore('sent').put(entry);
    await settleOwn(tx, entry, !refused, generation, touched);
    counts[refused ? 'refused' : 'stored'] += 1;
  }
  await trimSent(tx.objectStore('sent'));
  return counts;
}

function park(tx, { saved_at_ms, ...change }, problem, now_ms) {
  return tx.objectStore('parked').put({ id: change.id, change, problem, saved_at_ms, parked_at_ms: now_ms });
}

/** A change that home has becomes part of the base; a refused one leaves the view and is shown among the parked. */
async function settleOwn(tx, change, isHome, generation, touched) {
  const rows = tx.objectStore(change.kind);
  const row = await rows.get(change.record);
  if (!row) return;
  const parts = partsOf(change.record, row, generation);
  const base = isHome ? overlay(parts.base ?? {}, [change.set]) : parts.base;
  const own = parts.own.filter((mine) => mine.change !== change.id);
  const confirmed = isHome ? generation : parts.generation;
  await putRow(rows, change.kind, row, { ...parts, base, own, generation: confirmed }, touched);
}

async function takeRecords(tx, records, generation, touched) {
  await Promise.all(records.map(async ({ kind, id, fields }) => {
    // A kind that this version does not know belongs to a newer one, whose upgrade pulls afresh.
    if (!RECORD_STORES.includes(kind)) return;
    const rows = tx.objectStore(kind);
    const row = await rows.get(id);
    await putRow(rows, kind, row, { ...partsOf(id, row, generation), base: overlay(fields, []), generation }, touched);
  }));
}

async function sweep(tx, generation, touched) {
  for (const kind of RECORD_STORES) {
    const rows = tx.objectStore(kind);
    for (const row of await rows.getAll()) {
      if (row.generation >= generation) continue;
      await putRow(rows, kind, row, { ...partsOf(row.id, row, generation), base: null, generation }, touched);
    }
  }
  await tx.objectStore('settings').delete('sweep_due');
}

async function putRow(rows, kind, before, parts, touched) {
  const after = buildRow(kind, parts);
  touch(touched, kind, before);
  touch(touched, kind, after);
  await (after ? rows.put(after) : rows.delete(parts.id));
}

async function trimSent(sent) {
  const excess = (await sent.count()) - SENT_KEPT_MAX;
  if (excess <= 0) return;
  const keys = await sent.getAllKeys(null, excess);
  await sent.delete(IDBKeyRange.upperBound(keys.at(-1)));
}
