/** Answers from home that screens can show again offline: the latest few, each under the address that was asked. */

import { StoreError } from './errors.js';
import { writeAtOnce } from './transaction.js';

export const KEPT_MAX = 120;
export const KEPT_LENGTH_MAX = 500_000;

/** @returns {import('./types.js').Kept} */
export function createKept({ db, now }) {
  return {
    async get(path) {
      return (await db.get('kept', path)) ?? null;
    },
    /** Home has it too, so a power cut may cost it. */
    async put(path, document) {
      if (JSON.stringify(document).length > KEPT_LENGTH_MAX) {
        throw new StoreError('limit', `This answer is longer than ${KEPT_LENGTH_MAX} characters; it is not kept for offline.`);
      }
      const entry = { path, document, fetched_at_ms: now() };
      await writeAtOnce(db, ['kept'], async ({ store }) => {
        await store.put(entry);
        const excess = (await store.count()) - KEPT_MAX;
        const oldest = excess > 0 ? await store.index('age').getAllKeys(null, excess) : [];
        oldest.forEach((key) => store.delete(key));
      }, { durability: 'relaxed' });
      return entry;
    },
  };
}
