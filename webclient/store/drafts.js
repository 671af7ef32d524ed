/** Unfinished forms, kept on disk so that a phone call or a killed browser costs nothing. */

import { sayings } from '../core/sayings.js';
import { StoreError } from './errors.js';
import { writeAtOnce } from './transaction.js';

export const DRAFTS_MAX = 500;
export const DRAFT_LENGTH_MAX = 200_000;

/** @returns {import('./types.js').Drafts} */
export function createDrafts({ db, now }) {
  return {
    async get(key) {
      return (await db.get('drafts', key)) ?? null;
    },
    async put(key, value) {
      if (JSON.stringify(value).length > DRAFT_LENGTH_MAX) {
        throw new StoreError('limit', sayings.draftLong(DRAFT_LENGTH_MAX));
      }
      await writeAtOnce(db, ['drafts'], async ({ store }) => {
        if (!(await store.getKey(key)) && (await store.count()) >= DRAFTS_MAX) {
          throw new StoreError('limit', sayings.draftsMost(DRAFTS_MAX));
        }
        await store.put({ key, value, saved_at_ms: now() });
      });
    },
    /** A power cut may bring the draft back; what was saved from it is on disk already. */
    drop(key) {
      return writeAtOnce(db, ['drafts'], ({ store }) => store.delete(key), { durability: 'relaxed' });
    },
    async list() {
      return (await db.getAll('drafts')).sort((a, b) => b.saved_at_ms - a.saved_at_ms);
    },
  };
}
