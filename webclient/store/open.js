/** Opens the store: one database, its parts, and word of every commit to this tab and the others. */

import { createDrafts } from './drafts.js';
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
  const db = await openDatabase(name, { onClosed: () => news.tell({ topic: 'closed', elsewhere: false }) });
  await dropStrayPhotos(db, now());
  const parts = { db, now, emit: news.emit };
  const outbox = createOutbox(parts);
  // After a pull that died halfway; a phone too full for it still opens.
  await outbox.settle().catch((error) => console.warn('last visits not brought up to date', error));
  return {
    records: createRecords(parts),
    outbox,
    photos: createPhotos(parts),
    drafts: createDrafts(parts),
    kept: createKept(parts),
    settings: createSettings(parts),
    subscribe: news.subscribe,
    close() {
      news.close();
      db.close();
    },
  };
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
