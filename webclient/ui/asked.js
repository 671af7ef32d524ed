// Asks home for what only home can compute; what it said last is shown at once, and stays there without a network.

/**
 * Asks home at an address, and hands `take` what is known: first the answer that was kept, then home's own.
 * @param {object} ctx
 * @param {string} path under the API, e.g. `/trees/ID`
 * @param {(answer: {document: any, fetched_at_ms: number|null, asking: boolean, error: Error|null}) => void} take
 *   `document` null: nothing is known yet; `error`: why home did not answer this time
 * @param {(document: any) => any} [shorten] leaves out of a long answer what need not be kept
 */
export async function askHome(ctx, path, take, shorten = (document) => document) {
  const kept = await ctx.kept.get(path).catch(() => null);
  const tell = (entry, asking, error = null) => {
    take({ document: entry?.document ?? null, fetched_at_ms: entry?.fetched_at_ms ?? null, asking, error });
    ctx.redraw();
  };
  if (ctx.sync().phase === 'unpaired') return tell(kept, false);
  tell(kept, true);
  try {
    const document = await ctx.home.getJson(path);
    tell({ document, fetched_at_ms: Date.now() }, false);
    await ctx.kept.put(path, shorten(document)).catch((error) => console.warn('answer not kept', error));
  } catch (error) {
    tell(kept, false, error);
  }
}
