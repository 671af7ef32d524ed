/** Photos on this phone: the bytes as they were taken, and how far each is on its way home. */

import { sayings } from '../core/sayings.js';
import { StoreError } from './errors.js';
import { writeAtOnce } from './transaction.js';

export const PHOTO_BYTES_MAX = 25 * 1024 * 1024;
export const PHOTOS_UNSENT_MAX = 2000;
/** Of photos that are home, the newest stay on the phone up to this size, to be looked at without signal. */
export const SENT_PHOTO_BYTES_MAX = 200 * 1024 * 1024;
/** A held photo that is older than this, and that no form wants any more, is cleared away. */
export const HELD_MS_MAX = 7 * 86_400_000;
/** A photo is put off for an hour at most; one that waits longer was put off by a clock that is right again. */
const REST_MS_MAX = 3_600_000;

const STORES = ['photos', 'photo_bytes'];

/** @returns {import('./types.js').Photos} */
export function createPhotos({ db, now, emit }) {
  async function change(sha256, edit) {
    await writeAtOnce(db, STORES, async (tx) => {
      const photo = await tx.objectStore('photos').get(sha256);
      if (photo) await edit(tx, photo);
    });
    emit('photos');
  }
  const patch = (sha256, values) => change(sha256, (tx, photo) => (
    tx.objectStore('photos').put({ ...photo, ...values })
  ));

  return {
    async hold(photo) {
      const info = await writeAtOnce(db, STORES, (tx) => hold(tx, photo, now()));
      emit('photos');
      return info;
    },
    holdAgain: (sha256) => change(sha256, (tx, photo) => (
      photo.state === 'withdrawn' ? tx.objectStore('photos').put({ ...photo, state: 'held', problem: null }) : null
    )),
    release: (sha256) => change(sha256, (tx, photo) => (photo.state === 'held' ? forget(tx, sha256) : null)),
    async info(sha256) {
      return (await db.get('photos', sha256)) ?? null;
    },
    async bytes(sha256) {
      return (await db.get('photo_bytes', sha256))?.bytes ?? null;
    },
    async due(now_ms, limit) {
      const waiting = await db.getAllFromIndex('photos', 'state', 'waiting');
      const due = waiting.filter(({ next_try_at_ms: at_ms }) => at_ms <= now_ms || at_ms > now_ms + REST_MS_MAX);
      return due.sort((a, b) => a.next_try_at_ms - b.next_try_at_ms || a.held_at_ms - b.held_at_ms).slice(0, limit);
    },
    async markSent(sha256) {
      await patch(sha256, { state: 'sent', problem: null });
      await writeAtOnce(db, STORES, trimSent);
    },
    markFailed: (sha256, next_try_at_ms) => change(sha256, (tx, photo) => tx.objectStore('photos').put({
      ...photo, tries: photo.tries + 1, next_try_at_ms,
    })),
    markRefused: (sha256, problem) => patch(sha256, { state: 'refused', problem }),
    retry: (sha256) => patch(sha256, { state: 'waiting', tries: 0, next_try_at_ms: 0, problem: null }),
    refused: () => db.getAllFromIndex('photos', 'state', 'refused'),
  };
}

async function hold(tx, { bytes, sha256, type, taken_at }, now_ms) {
  if (bytes.byteLength === 0) throw new StoreError('invalid', sayings.photoEmpty);
  if (bytes.byteLength > PHOTO_BYTES_MAX) {
    throw new StoreError('limit', sayings.photoLarge);
  }
  const photos = tx.objectStore('photos');
  const known = await photos.get(sha256);
  if (known?.kept) return known;
  const unsent = (await photos.index('state').count('waiting')) + (await photos.index('state').count('held'));
  if (unsent >= PHOTOS_UNSENT_MAX) {
    throw new StoreError('limit', sayings.photosWait(PHOTOS_UNSENT_MAX));
  }
  const info = {
    sha256, type, size_bytes: bytes.byteLength, taken_at, held_at_ms: now_ms, state: 'held', record: null, tree: null,
    observation: null, tries: 0, next_try_at_ms: 0, problem: null, ...known, kept: true,
  };
  await Promise.all([photos.put(info), tx.objectStore('photo_bytes').put({ sha256, bytes })]);
  return info;
}

function forget(tx, sha256) {
  return Promise.all([tx.objectStore('photos').delete(sha256), tx.objectStore('photo_bytes').delete(sha256)]);
}

async function trimSent(tx) {
  const photos = tx.objectStore('photos');
  const sent = (await photos.index('state').getAll('sent')).sort((a, b) => b.held_at_ms - a.held_at_ms);
  let bytes = 0;
  for (const photo of sent.filter((each) => each.kept)) {
    bytes += photo.size_bytes;
    if (bytes <= SENT_PHOTO_BYTES_MAX) continue;
    await photos.put({ ...photo, kept: false });
    await tx.objectStore('photo_bytes').delete(photo.sha256);
  }
}

/**
 * Clears away photos whose form was dropped without releasing them; those that a draft still names stay.
 * @param {import('idb').IDBPDatabase} db
 * @param {number} now_ms
 */
export function dropStrayPhotos(db, now_ms) {
  return writeAtOnce(db, [...STORES, 'drafts'], async (tx) => {
    const wanted = JSON.stringify((await tx.objectStore('drafts').getAll()).map((draft) => draft.value));
    for (const photo of await tx.objectStore('photos').index('state').getAll('held')) {
      if (now_ms - photo.held_at_ms > HELD_MS_MAX && !wanted.includes(photo.sha256)) await forget(tx, photo.sha256);
    }
  });
}
