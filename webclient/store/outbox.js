/** The changes that are not home yet: what waits, what home refused, and how it is mended. */

import { sayings } from '../core/sayings.js';
import { MOMENT_FIELD, problemsOf } from '../core/shapes.js';
import { takeAnswer } from './answers.js';
import { OWED_KEY, settleLatest } from './derived.js';
import { followPhoto, writeEdits } from './edits.js';
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
      await writeAtOnce(db, ['parked', 'photos', 'photo'], (tx) => discard(tx, change));
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
    tx.objectStore('outbox').count(), tx.objectStore('outbox').getAll(null, 1), tx.objectStore('parked').getAll(),
    byState.getAll('waiting'), byState.getAll('refused'),
  ]);
  const oldest_at_ms = [...oldest, ...parked, ...waiting, ...refused]
    .map((one) => one.saved_at_ms ?? one.held_at_ms)
    .reduce((a, b) => Math.min(a ?? b, b), null);
  return {
    unsent, oldest_at_ms, parked: parked.length, photos_waiting: waiting.length, photos_refused: refused.length,
  };
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
 * after it and concern its record, or name it, were probably refused for its absence and go out again with it.
 */
async function mend(tx, id, set, now_ms) {
  const parked = tx.objectStore('parked');
  const broken = await parked.get(id);
  if (!broken) throw new StoreError('missing', sayings.mended);
  const { kind, record } = broken.change;
  const mended = { kind, record, set: { ...broken.change.set, ...set } };
  const followers = followersOf(broken.change, await parked.getAll(), mended.set[MOMENT_FIELD[kind]], now_ms);
  await Promise.all([id, ...followers.map((change) => change.id)].map((gone) => parked.delete(gone)));
  const [saved] = await writeEdits(tx, [mended, ...followers], now_ms);
  return saved;
}

/** What is wrong by itself waits for a mend of its own instead of undoing this one. */
function followersOf(broken, parked, at, now_ms) {
  const going = new Set([broken.record]);
  return parked.map(({ change }) => change).sort((a, b) => a.n - b.n).flatMap((change) => {
    const named = [change.record, ...Object.values(change.set).flat()];
    const follower = change.n > broken.n && named.some((value) => going.has(value)) && soundAt(change, at, now_ms);
    if (!follower) return [];
    going.add(change.record);
    return follower;
  });
}

/** A photo was taken by the same clock as its visit, so it takes over the mended moment; false when still wrong. */
function soundAt(change, at, now_ms) {
  const wrong = problemsOf(change.kind, change.set, { before: {}, now_ms });
  if (wrong.length === 0) return change;
  return at && wrong.every(({ field }) => field === 'taken_at') && { ...change, set: { ...change.set, taken_at: at } };
}

async function discard(tx, id) {
  const parked = tx.objectStore('parked');
  const { change } = (await parked.get(id)) ?? {};
  await parked.delete(id);
  if (change?.kind === 'photo') await followPhoto(tx, change.record, { ...change.set, voided: true });
}
