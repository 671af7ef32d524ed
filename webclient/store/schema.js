/** The phone's database: its object stores and indexes, built up by numbered upgrades. */

import { openDB } from 'idb';
import { KINDS } from '../core/shapes.js';
import { asStoreError } from './errors.js';

/** The kinds of records, each in an object store of its own name. */
export const RECORD_STORES = Object.freeze(Object.keys(KINDS));

/** Everything that a save or a pulled page may touch in its one transaction. */
export const SYNCED_STORES = Object.freeze([
  ...RECORD_STORES, 'tags', 'latest', 'outbox', 'parked', 'sent', 'photos', 'settings', 'kept',
]);

/** Upgrade number i+1 is entry i; an upgrade that was released is never edited, only followed by another. */
const UPGRADES = [createFirstStores, createKept, createPlans];

// Those of the first upgrade, which later kinds must not change.
const FIRST_KINDS = [
  'variety', 'place', 'tree', 'round', 'observation', 'move', 'work', 'reading', 'harvest', 'photo',
];

/**
 * Opens the database, upgrading it where an older version is found.
 * @param {string} name
 * @param {{onClosed: (lost: boolean) => void}} listeners `onClosed`: the connection was given up, for a newer tab or
 *   (`lost`) by the browser
 * @returns {Promise<import('idb').IDBPDatabase>}
 */
export async function openDatabase(name, { onClosed }) {
  try {
    return await openDB(name, UPGRADES.length, {
      upgrade(db, oldVersion, newVersion, transaction) {
        for (const upgrade of UPGRADES.slice(oldVersion)) upgrade(db, transaction);
      },
      blocking(currentVersion, blockedVersion, event) {
        event.target.close();
        onClosed(false);
      },
      terminated: () => onClosed(true),
    });
  } catch (error) {
    throw asStoreError(error);
  }
}

function createFirstStores(db) {
  for (const kind of FIRST_KINDS) {
    const rows = db.createObjectStore(kind, { keyPath: 'id' });
    if (['observation', 'move', 'work', 'harvest', 'photo'].includes(kind)) rows.createIndex('tree', ['tree', 'at_ms']);
    if (['observation', 'move', 'work'].includes(kind)) rows.createIndex('round', 'round');
    if (kind === 'round') rows.createIndex('at', 'at_ms');
    if (kind === 'work') rows.createIndex('potting', ['tree', 'potted_ms']);
  }
  const tags = db.createObjectStore('tags', { keyPath: ['code', 'tree'] });
  tags.createIndex('code', 'code');
  tags.createIndex('tree', 'tree');
  db.createObjectStore('latest', { keyPath: 'tree' });
  db.createObjectStore('outbox', { keyPath: 'n' });
  db.createObjectStore('parked', { keyPath: 'id' });
  db.createObjectStore('sent', { keyPath: 'n' });
  const photos = db.createObjectStore('photos', { keyPath: 'sha256' });
  photos.createIndex('state', 'state');
  db.createObjectStore('photo_bytes', { keyPath: 'sha256' });
  db.createObjectStore('drafts', { keyPath: 'key' });
  db.createObjectStore('settings');
}

function createKept(db) {
  db.createObjectStore('kept', { keyPath: 'path' }).createIndex('age', 'fetched_at_ms');
}

/** Batches of cuttings, jobs and lessons; home sent none to a phone that did not know them, so all is pulled anew. */
function createPlans(db, transaction) {
  for (const kind of ['batch', 'job', 'lesson']) {
    const rows = db.createObjectStore(kind, { keyPath: 'id' });
    if (kind === 'job') rows.createIndex('tree', 'tree');
  }
  transaction.objectStore('settings').delete('cursor');
}
