/** Opens the store: one database, its parts, and word of every commit to this tab and the others. */

import { createDrafts } from './drafts.js';
import { asStoreError } from './errors.js';
import { createKept } from './kept.js';
import { createOutbox } from './outbox.js';
import { createPhotos, dropStrayPhotos } from './photos.js';
import { createRecords } from './records.js';
import { openDatabase } from './schema.js';
import { createSettings } from './settings.js';

/**
 * @param {{name?: string, now?: () => number}} [options] `now` in milliseconds since 1970
 * @returns {Promise<import('./types.js').Store>}
 */
export async function openStore({ name = 'leafwalk', now = Date.now } = {}) {
  const news = createNews(name);
  const db = await openDatabase(name, { onClosed: (lost) => news.tell({ topic: 'closed', elsewhere: false, lost }) });
  await dropStrayPhotos(db, now());
  const parts = { db, now, emit: news.emit };
  const outbox = createOutbox(parts);
  // After a pull that died halfway; a phone too full for it still opens.
  await outbox.settle().catch((error) => console.warn('last visits not brought up to date', error));
  return {
    records: guarded(createRecords(parts)),
    outbox: guarded(outbox),
    photos: guarded(createPhotos(parts)),
    drafts: guarded(createDrafts(parts)),
    kept: guarded(createKept(parts)),
    settings: guarded(createSettings(parts)),
    subscribe: news.subscribe,
    close() {
      news.close();
      db.close();
    },
  };
}

/** A part whose reads, too, fail with a StoreError and never with the browser's own. */
function guarded(part) {
  const guard = (method) => (...given) => method(...given).catch((error) => { throw asStoreError(error); });
  return Object.fromEntries(Object.entries(part).map(([name, method]) => [name, guard(method)]));
}

/** Word of commits; other tabs hear of them through a channel that carries the topic only, never data. */
function createNews(name) {
  const listeners = new Set();
  const channel = new BroadcastChannel(`${name}-commits`);
  const tell = (event) => listeners.forEach((listener) => listener(event));
  channel.addEventListener('message', ({ data }) => tell({ topic: data, elsewhere: true }));
  return {
    tell,
    emit(topic) {
      tell({ topic, elsewhere: false });
      channel.postMessage(topic);
    },
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    close: () => channel.close(),
  };
}
