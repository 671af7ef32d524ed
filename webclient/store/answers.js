/** Takes in one answer from home: outcomes, pulled records, cursor and epoch, all in one transaction. */

import { nothingTouched, oweLatest, refreshTags, settleLatest, touch } from './derived.js';
import { lackedBy, sendNoLongerLacking } from './lacking.js';
import { buildRow, overlay, partsOf } from './rows.js';
import { RECORD_STORES } from './schema.js';
import { answerOf, bareStore } from './transaction.js';

/** How many sent changes are kept, to be offered again when home was restored from a backup: months of rounds, some 4 MB. */
export const SENT_KEPT_MAX = 10_000;

const ASKED_ONE_BY_ONE_MAX = 200;

/**
 * @param {import('idb').IDBPTransaction} tx over SYNCED_STORES
 * @param {import('./types.js').SyncAnswer} answer
 * @param {{epoch: string | null, cursor: string | null, changes: import('./types.js').Change[]}} request
 * @param {number} now_ms
 * @returns {Promise<import('./types.js').Applied>}
 */
export async function takeAnswer(tx, answer, request, now_ms) {
  const settings = bareStore(tx, 'settings');
  const [epoch, cursor, stored, sweepDue] = await Promise.all(
    ['epoch', 'cursor', 'generation', 'sweep_due'].map((key) => answerOf(settings.get(key))),
  );
  const epochChanged = epoch !== undefined && epoch !== answer.epoch;
  const generation = (stored ?? 0) + (epochChanged ? 1 : 0);
  const touched = nothingTouched();
  if (epochChanged) await beginEpoch(tx, generation, touched);
  settings.put(answer.epoch, 'epoch');
  settings.put(now_ms, 'last_contact_ms');
  // Records that were asked for from another place than this phone now stands at would leave a gap.
  const fits = !epochChanged && (epoch ?? null) === request.epoch && (cursor ?? null) === request.cursor;
  const outcomes = await takeResults(tx, answer.results, request.changes, { generation, touched, now_ms, fits });
  if (fits) {
    await takeRecords(tx, answer.records, generation, touched);
    settings.put(answer.cursor, 'cursor');
    if (!answer.more && sweepDue) await sweep(tx, generation, touched);
  }
  const again = await sendNoLongerLacking(tx, generation, touched);
  await derive(tx, touched, answer.more);
  return { ...outcomes, again, pulled: fits ? answer.records.length : 0, epochChanged };
}

/** Further pages mostly touch the same trees again, so last visits, the dear part, wait for the last of them. */
async function derive(tx, touched, more) {
  await Promise.all([refreshTags(tx, touched.cards), oweLatest(tx, touched.trees)]);
  if (!more) await settleLatest(tx);
}

/**
 * Home was restored from a backup: everything is pulled afresh, and recent sent changes and photos are offered again, as
 * is what home refused: this home may know better, or hold it already.
 * What was pulled before stays readable until the new pull is complete; then `sweep` drops what home no longer has.
 */
async function beginEpoch(tx, generation, touched) {
  const [settings, sent, parked, outbox] = ['settings', 'sent', 'parked', 'outbox'].map((name) => bareStore(tx, name));
  settings.put(generation, 'generation');
  settings.put(true, 'sweep_due');
  settings.delete('cursor');
  settings.delete('overview');
  bareStore(tx, 'kept').clear();
  const [taken, refused] = await Promise.all([answerOf(sent.getAll()), answerOf(parked.getAll())]);
  sent.clear();
  parked.clear();
  const byKind = new Map();
  for (const change of [...taken, ...refused.map(({ change: given, saved_at_ms }) => ({ ...given, saved_at_ms }))]) {
    outbox.put(change);
    if (!byKind.has(change.kind)) byKind.set(change.kind, new Map());
    const byRecord = byKind.get(change.kind);
    byRecord.set(change.record, [...(byRecord.get(change.record) ?? []), { change: change.id, n: change.n, set: change.set }]);
  }
  await Promise.all([...byKind].map(async ([kind, byRecord]) => {
    const rows = bareStore(tx, kind);
    const known = await rowsOf(rows, [...byRecord.keys()]);
    for (const [record, changes] of byRecord) {
      const parts = partsOf(record, known.get(record), generation);
      const own = [...parts.own, ...changes].sort((a, b) => a.n - b.n);
      putRow(rows, kind, known.get(record), { ...parts, own }, touched);
    }
  }));
  const photos = bareStore(tx, 'photos');
  for (const photo of await answerOf(photos.index('state').getAll('sent'))) {
    if (photo.kept) photos.put({ ...photo, state: 'waiting', tries: 0, next_try_at_ms: 0 });
  }
}

async function takeResults(tx, results, sent, { generation, touched, now_ms, fits }) {
  const [outbox, kept] = [bareStore(tx, 'outbox'), bareStore(tx, 'sent')];
  const changes = new Map(sent.map((change) => [change.id, change]));
  const counts = { stored: 0, refused: 0 };
  for (const result of results) {
    const change = changes.get(result.id);
    const entry = change && (await answerOf(outbox.get(change.n)));
    // Another tab may have taken in the same outcome already.
    if (!entry || entry.id !== change.id) continue;
    outbox.delete(change.n);
    const refused = result.outcome === 'refused';
    if (refused) park(tx, entry, result.problem ?? {}, now_ms);
    else kept.put(entry);
    await settleOwn(tx, entry, { isHome: !refused, isPulledNext: fits && result.outcome === 'stored' }, generation, touched);
    counts[refused ? 'refused' : 'stored'] += 1;
  }
  if (counts.stored > 0) await trimSent(kept);
  return counts;
}

function park(tx, { saved_at_ms, again = 0, ...change }, problem, now_ms) {
  const lacks = lackedBy(change, problem);
  bareStore(tx, 'parked').put({ id: change.id, change, problem, lacks, again, saved_at_ms, parked_at_ms: now_ms });
}

/**
 * A change that home has leaves the overlay; a refused one leaves the view and is shown among the parked. Until home's
 * merged record is pulled, the base shows the change. But a base that may hold that record already stays: its pull does
 * not come again, and another phone's later edit may have won.
 */
async function settleOwn(tx, change, { isHome, isPulledNext }, generation, touched) {
  const rows = bareStore(tx, change.kind);
  const row = await answerOf(rows.get(change.record));
  if (!row) return;
  const parts = partsOf(change.record, row, generation);
  const shows = isHome && (isPulledNext || parts.base === null);
  const base = shows ? overlay(parts.base ?? {}, [change.set]) : parts.base;
  const own = parts.own.filter((mine) => mine.change !== change.id);
  const confirmed = isHome ? generation : parts.generation;
  putRow(rows, change.kind, row, { ...parts, base, own, generation: confirmed }, touched);
}

/** A kind that this version does not know is left out: it belongs to a newer one, whose upgrade pulls afresh. */
async function takeRecords(tx, records, generation, touched) {
  await Promise.all(RECORD_STORES.map(async (kind) => {
    const pulled = records.filter((record) => record.kind === kind);
    const rows = bareStore(tx, kind);
    const known = await rowsKnown(rows, pulled.map(({ id }) => id));
    for (const { id, fields } of pulled) {
      const row = known.get(id);
      const base = row?.own ? overlay(fields, []) : fields;
      putRow(rows, kind, row, { ...partsOf(id, row, generation), base, generation }, touched);
    }
  }));
}

/** Rows that are stored already, by id; a first pull finds few, so a long list is held against all keys first. */
async function rowsKnown(rows, ids) {
  const keys = ids.length > ASKED_ONE_BY_ONE_MAX ? new Set(await answerOf(rows.getAllKeys())) : null;
  return rowsOf(rows, keys ? ids.filter((id) => keys.has(id)) : ids);
}

/** Rows by id, most of which are here: a long list is read with all others at once, which is far quicker. */
async function rowsOf(rows, ids) {
  const found = ids.length > ASKED_ONE_BY_ONE_MAX ? await answerOf(rows.getAll()) : await Promise.all(ids.map((id) => answerOf(rows.get(id))));
  return new Map(found.filter(Boolean).map((row) => [row.id, row]));
}

async function sweep(tx, generation, touched) {
  for (const kind of RECORD_STORES) {
    const rows = bareStore(tx, kind);
    for (const row of await answerOf(rows.getAll())) {
      if (row.generation >= generation) continue;
      putRow(rows, kind, row, { ...partsOf(row.id, row, generation), base: null, generation }, touched);
    }
  }
  bareStore(tx, 'settings').delete('sweep_due');
}

function putRow(rows, kind, before, parts, touched) {
  const after = buildRow(kind, parts);
  touch(touched, kind, before);
  touch(touched, kind, after);
  if (after) rows.put(after);
  else rows.delete(parts.id);
}

async function trimSent(sent) {
  const excess = (await answerOf(sent.count())) - SENT_KEPT_MAX;
  if (excess <= 0) return;
  const keys = await answerOf(sent.getAllKeys(null, excess));
  sent.delete(IDBKeyRange.upperBound(keys.at(-1)));
}
