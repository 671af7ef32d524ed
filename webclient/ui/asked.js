// Asks home for what only home can compute; what it said last is shown at once, and stays there without a network.

/**
 * Asks home at an address, and hands `take` what is known: first the answer that was kept, then home's own.
 * @param {object} ctx
 * @param {string} path under the API, e.g. `/trees/ID`
 * @param {(answer: {document: any, fetched_at_ms: number|null, asking: boolean, error: Error|null}) => void} take
 *   `document` null: nothing is known yet; `error`: why home did not answer this time; returns false where nothing that
 *   is shown has changed
 * @param {(document: any) => any} [shorten] leaves out of a long answer what need not be kept
 */
export async function askHome(ctx, path, take, shorten = (document) => document) {
  if (ctx.sync().phase === 'unpaired') return showKept(ctx, path, take);
  const kept = await showKept(ctx, path, take, true);
  try {
    const document = await ctx.home.getJson(path);
    tell(ctx, take, { document, fetched_at_ms: Date.now() });
    await ctx.kept.put(path, shorten(document)).catch((error) => console.warn('answer not kept', error));
  } catch (error) {
    tell(ctx, take, kept, { error });
  }
}

/** Hands `take` the answer that was kept, without asking home. */
export async function showKept(ctx, path, take, asking = false) {
  const kept = await ctx.kept.get(path).catch(() => null);
  tell(ctx, take, kept, { asking });
  return kept;
}

function tell(ctx, take, entry, { asking = false, error = null } = {}) {
  const changed = take({ document: entry?.document ?? null, fetched_at_ms: entry?.fetched_at_ms ?? null, asking, error });
  if (changed !== false) ctx.redraw();
}
