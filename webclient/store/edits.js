/** Writes edits within a transaction: each becomes an overlay on its record and an entry of the outbox, or neither. */

import { newId } from '../core/ids.js';
import { problemsOf } from '../core/shapes.js';
import { sayings } from '../core/sayings.js';
import { timeText } from '../core/time.js';
import { nothingTouched, refreshTouched, touch } from './derived.js';
import { StoreError } from './errors.js';
import { buildRow, partsOf } from './rows.js';
import { answerOf, bareStore } from './transaction.js';

/** Most changes that wait on the phone, far above what a season of rounds writes. */
export const OUTBOX_MAX = 50_000;
/** Most photos of one visit. */
export const PHOTOS_PER_EDIT_MAX = 20;

/**
 * @param {import('idb').IDBPTransaction} tx over SYNCED_STORES
 * @param {import('./types.js').Edit[]} edits an `edited_at` of its own is kept, for a change that goes out again
 * @param {number} now_ms
 * @returns {Promise<import('./types.js').Saved[]>}
 */
export async function writeEdits(tx, edits, now_ms) {
  const settings = bareStore(tx, 'settings');
  const [waiting, generation = 0, last_n = 0] = await Promise.all([
    answerOf(bareStore(tx, 'outbox').count()), answerOf(settings.get('generation')), answerOf(settings.get('last_n')),
  ]);
  if (waiting + edits.length > OUTBOX_MAX) {
    throw new StoreError('limit', sayings.outboxFull(OUTBOX_MAX));
  }
  let n = last_n;
  const touched = nothingTouched();
  const saved = [];
  for (const edit of edits) {
    const photos = edit.photos ?? [];
    if (photos.length > PHOTOS_PER_EDIT_MAX) {
      throw new StoreError('limit', sayings.photosMost(PHOTOS_PER_EDIT_MAX));
    }
    const done = await writeEdit(tx, edit, { n: ++n, now_ms, generation, touched });
    for (const sha256 of photos) {
      const photo = await photoEdit(tx, sha256, edit.kind, done);
      done.undo.push(...(await writeEdit(tx, photo, { n: ++n, now_ms, generation, touched })).undo);
    }
    saved.push(done);
  }
  settings.put(n, 'last_n');
  await refreshTouched(tx, touched);
  return saved.map(({ fields, ...rest }) => rest);
}

async function writeEdit(tx, edit, { n, now_ms, generation, touched }) {
  const { kind, set } = edit;
  if (Object.keys(set).length === 0) throw new StoreError('invalid', sayings.nothing);
  const rows = storeOf(tx, kind);
  const record = edit.record ?? newId();
  // An id that was made just now stands nowhere yet.
  const row = edit.record ? await answerOf(rows.get(record)) : undefined;
  const problems = problemsOf(kind, set, { before: row?.fields ?? null, now_ms });
  if (problems.length > 0) {
    const message = problems.map((problem) => `${problem.field}: ${problem.message}`).join(' ');
    throw new StoreError('invalid', message, { problems });
  }
  const change = { id: newId(), n, kind, record, edited_at: edit.edited_at ?? timeText(now_ms), set };
  const parts = partsOf(record, row, generation);
  const after = buildRow(kind, {
    ...parts, own: [...parts.own, { change: change.id, n, set }], mine: row ? row.mine : true,
  });
  touch(touched, kind, row);
  touch(touched, kind, after);
  rows.put(after);
  bareStore(tx, 'outbox').put({ ...change, saved_at_ms: now_ms });
  if (kind === 'photo') await followPhoto(tx, record, after.fields);
  const undo = { kind, record, set: row ? valuesBefore(row.fields, set) : { voided: true } };
  return { record, change: change.id, n, undo: [undo], fields: after.fields };
}

function storeOf(tx, kind) {
  if (!tx.db.objectStoreNames.contains(kind)) {
    throw new StoreError('invalid', sayings.noKind(kind));
  }
  return bareStore(tx, kind);
}

function valuesBefore(fields, set) {
  const before = (field) => fields[field] ?? (field === 'voided' ? false : null);
  return Object.fromEntries(Object.keys(set).map((field) => [field, before(field)]));
}

async function photoEdit(tx, sha256, kind, owner) {
  const photo = await tx.objectStore('photos').get(sha256);
  if (!photo) throw new StoreError('missing', sayings.photoGone);
  const set = { sha256, taken_at: photo.taken_at };
  if (kind === 'tree') set.tree = owner.record;
  else if (owner.fields.tree) set.tree = owner.fields.tree;
  if (kind === 'observation') set.observation = owner.record;
  return { kind: 'photo', set };
}

/**
 * A photo's bytes wait to be sent once its record is saved, and no longer when the record is withdrawn, unless the same
 * file belongs to another one as well.
 */
export async function followPhoto(tx, record, fields) {
  const photos = tx.objectStore('photos');
  const photo = await photos.get(fields.sha256 ?? '');
  if (!photo || (fields.voided && photo.record !== record)) return;
  if (fields.voided) {
    const shares = (row) => row.fields.sha256 === photo.sha256 && !row.fields.voided;
    const other = (await tx.objectStore('photo').getAll()).find(shares);
    if (other) return followPhoto(tx, other.id, other.fields);
  }
  const { tree = null, observation = null } = fields;
  const next = { held: 'waiting', withdrawn: 'waiting' };
  const state = fields.voided ? { waiting: 'withdrawn', refused: 'withdrawn' } : next;
  await photos.put({ ...photo, record, tree, observation, state: state[photo.state] ?? photo.state });
}
