// Keeps unfinished forms on the disk while they are typed; writes for one form never overtake each other.

/** @param {import('../store/types.js').Drafts} drafts */
export function createKeeper(drafts) {
  const waiting = new Map();
  let run = null;

  async function drain() {
    while (waiting.size > 0) {
      const [key, value] = waiting.entries().next().value;
      waiting.delete(key);
      // Losing a draft is no reason to stop the grower; the entry itself is still on the screen.
      await drafts.put(key, value).catch((error) => console.warn('draft not kept', error));
    }
    run = null;
  }

  return {
    /** Keeps the newest value under the key; values in between may be skipped. */
    keep(key, value) {
      waiting.set(key, value);
      run ??= drain();
    },
    /** Forgets the draft, also one that is still being written. */
    async drop(key) {
      waiting.delete(key);
      await run;
      await drafts.drop(key);
    },
    /** Resolves when all is on the disk. */
    async settled() {
      await run;
    },
  };
}
