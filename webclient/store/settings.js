/** Small values by key: pairing, cursor, units, and the last overview from home. */

import { writeAtOnce } from './transaction.js';

/** @returns {import('./types.js').Settings} */
export function createSettings({ db, emit }) {
  return {
    async get(key, otherwise = null) {
      return (await db.get('settings', key)) ?? otherwise;
    },
    async set(values) {
      await writeAtOnce(db, ['settings'], async (tx) => {
        await Promise.all(Object.entries(values).map(([key, value]) => putOrDelete(tx.store, key, value)));
      });
      emit('settings');
    },
  };
}

function putOrDelete(store, key, value) {
  return value === undefined ? store.delete(key) : store.put(value, key);
}
