/** How much room the browser gives, and whether it promised not to clear it. */

/** @returns {Promise<import('./types.js').StorageState>} null where the browser does not say */
export async function storageState() {
  const manager = navigator.storage;
  const [persisted, { usage = null, quota = null }] = await Promise.all([
    manager?.persisted?.().catch(() => null) ?? null,
    manager?.estimate?.().catch(() => ({})) ?? {},
  ]);
  const free_bytes = usage === null || quota === null ? null : Math.max(0, quota - usage);
  return { persisted, used_bytes: usage, free_bytes };
}

/**
 * Asks the browser never to clear the records by itself.
 * @returns {Promise<boolean>} whether it promises
 */
export async function keepStorage() {
  return (await navigator.storage?.persist?.().catch(() => false)) ?? false;
}
