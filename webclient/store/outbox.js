/** The changes that are not home yet: what waits, what home refused, and how it is mended. */

import { sayings } from '../core/sayings.js';
import { takeAnswer } from './answers.js';
import { OWED_KEY, settleLatest } from './derived.js';
import { writeEdits } from './edits.js';
import { StoreError } from './errors.js';
import { pocketText } from './pocket.js';
import { SYNCED_STORES } from './schema.js';
import { writeAtOnce } from './transaction.js';

const LISTED_MAX = 500;

/** @returns {import('./types.js').Outbox} */
export function createOutbox({ db, now, emit }) {
  return {
    summary: () => summaryOf(db),
    list: (limit = LISTED_MAX) => db.getAll('outbox', null, limit),
    async next(count_max, bytes_max) {
      return firstChanges(await db.getAll('outbox', null, count_max), bytes_max);
    },
    async parked(limit = LISTED_MAX) {
      return (await db.getAll('parked')).sort((a, b) => a.change.n - b.change.n).slice(0, limit);
    },
    async mend(change, set) {
      const saved = await writeAtOnce(db, SYNCED_STORES, (tx) => mend(tx, change, set, now()));
      emit('pocket');
      emit('saved');
      return saved;
    },
    async discard(change) {
      await writeAtOnce(db, ['parked', 'photos'], (tx) => discard(tx, change));
      emit('pocket');
    },
    exportPocket: () => pocketText(db, now()),
    async applyAnswer(answer, request) {
      // What is only pulled can be pulled again; what was written here is moved on with all care.
      const durability = request.changes.length > 0 ? 'strict' : 'relaxed';
      const take = (tx) => takeAnswer(tx, answer, request, now());
      const applied = await writeAtOnce(db, SYNCED_STORES, take, { durability });
      if (applied.pulled > 0) emit('pulled');
      if (applied.stored + applied.refused + applied.again > 0 || applied.epochChanged) emit('pocket');
      return applied;
    },
    async settle() {
      if (!(await db.get('settings', OWED_KEY))) return;
      const settled = await writeAtOnce(db, SYNCED_STORES, settleLatest, { durability: 'relaxed' });
      if (settled > 0) emit('pulled');
    },
  };
}

async function summaryOf(db) {
  const tx = db.transaction(['outbox', 'parked', 'photos']);
  const byState = tx.objectStore('photos').index('state');
  const [unsent, oldest, parked, waiting, refused] = await Promise.all([
    tx.objectStore('outbox').count(), tx.objectStore('outbox').getAll(null, 1), tx.objectStore('parked').count(),
    byState.count('waiting'), byState.count('refused'),
  ]);
  const oldest_at_ms = oldest[0]?.saved_at_ms ?? null;
  return { unsent, oldest_at_ms, parked, photos_waiting: waiting, photos_refused: refused };
}

/** As many of the first entries as fit, always at least one, without what only this phone needs to know. */
function firstChanges(entries, bytes_max) {
  const changes = [];
  let bytes = 0;
  for (const { saved_at_ms, again, ...change } of entries) {
    bytes += new TextEncoder().encode(JSON.stringify(change)).length + 1;
    if (changes.length > 0 && bytes > bytes_max) break;
    changes.push(change);
  }
  return changes;
}

/**
 * The refused change goes out again as a new one, because home never takes back an outcome. Refused changes that came
 * after it and concern its record, or name it, were probably refused for its absence and go out again unaltered.
 */
async function mend(tx, id, set, now_ms) {
  const parked = tx.objectStore('parked');
  const broken = await parked.get(id);
  if (!broken) throw new StoreError('missing', sayings.mended);
  const followers = followersOf(broken, await parked.getAll());
  const { kind, record } = broken.change;
  const edits = [
    { kind, record, set: { ...broken.change.set, ...set } },
    ...followers.map(({ change }) => ({ ...change })),
  ];
  await Promise.all([broken, ...followers].map((item) => parked.delete(item.id)));
  const [saved] = await writeEdits(tx, edits, now_ms);
  return saved;
}

function followersOf(broken, parked) {
  const records = new Set([broken.change.record]);
  return [...parked].sort((a, b) => a.change.n - b.change.n).filter(({ change }) => {
    const follows = change.n > broken.change.n
      && (records.has(change.record) || Object.values(change.set).flat().some((value) => records.has(value)));
    if (follows) records.add(change.record);
    return follows;
  });
}

async function discard(tx, id) {
  const parked = tx.objectStore('parked');
  const { change } = (await parked.get(id)) ?? {};
  await parked.delete(id);
  if (change?.kind !== 'photo') return;
  const photo = await tx.objectStore('photos').get(change.set.sha256 ?? '');
  if (photo?.record === change.record && photo.state !== 'sent') {
    await tx.objectStore('photos').put({ ...photo, state: 'withdrawn' });
  }
}
