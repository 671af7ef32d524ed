/** Writes everything that is not home yet as one JSON text, the last resort of a phone that cannot reach home. */

import { timeText } from '../core/time.js';

/** Photos are put into the text up to this many bytes in all; further ones are only listed. */
export const EXPORTED_PHOTO_BYTES_MAX = 64 * 1024 * 1024;

const ENCODED_AT_ONCE_BYTES = 0x8000;

/**
 * @param {import('idb').IDBPDatabase} db
 * @param {number} now_ms
 * @returns {Promise<{text: string, left_out: number}>} `text`: `{format, version, exported_at, device, changes, parked,
 *   photos}`; `changes` as they would go over the wire, each photo with `bytes_base64`, or null where it was left out
 */
export async function pocketText(db, now_ms) {
  const tx = db.transaction(['outbox', 'parked', 'photos', 'settings']);
  const [entries, parked, photos, pairing] = await Promise.all([
    tx.objectStore('outbox').getAll(), tx.objectStore('parked').getAll(), tx.objectStore('photos').getAll(),
    tx.objectStore('settings').get('pairing'),
  ]);
  const changes = entries.map(({ saved_at_ms, again, ...change }) => change);
  const unsent = photos.filter((photo) => ['held', 'waiting', 'refused'].includes(photo.state));
  const listed = await withBytes(db, unsent);
  const text = JSON.stringify({
    format: 'leafwalk-pocket',
    version: 1,
    exported_at: timeText(now_ms),
    device: pairing?.device ?? null,
    changes,
    parked: parked.map(({ change, problem }) => ({ change, problem })),
    photos: listed,
  });
  return { text, left_out: listed.filter((photo) => photo.bytes_base64 === null).length };
}

async function withBytes(db, photos) {
  const listed = [];
  let bytes_left = EXPORTED_PHOTO_BYTES_MAX;
  for (const { sha256, type, size_bytes, taken_at, record, tree, observation } of photos) {
    const kept = size_bytes <= bytes_left ? await db.get('photo_bytes', sha256) : null;
    if (kept) bytes_left -= size_bytes;
    const bytes_base64 = kept ? base64Of(kept.bytes) : null;
    listed.push({ sha256, type, size_bytes, taken_at, record, tree, observation, bytes_base64 });
  }
  return listed;
}

function base64Of(buffer) {
  const bytes = new Uint8Array(buffer);
  let binary = '';
  for (let start = 0; start < bytes.length; start += ENCODED_AT_ONCE_BYTES) {
    binary += String.fromCharCode(...bytes.subarray(start, start + ENCODED_AT_ONCE_BYTES));
  }
  return btoa(binary);
}
