/** Runs one read-write transaction that is all or nothing and on disk before it resolves. */

import { asStoreError } from './errors.js';

/**
 * `work` may await nothing but requests of the given transaction, or the browser commits it early.
 * @template T
 * @param {import('idb').IDBPDatabase} db
 * @param {readonly string[]} stores
 * @param {(tx: import('idb').IDBPTransaction) => Promise<T>} work
 * @returns {Promise<T>}
 */
export async function writeAtOnce(db, stores, work) {
  let tx = null;
  try {
    tx = db.transaction(stores, 'readwrite', { durability: 'strict' });
    // The rejection is reported by the awaits below; this keeps it from being reported a second time as unhandled.
    tx.done.catch(() => {});
    const result = await work(tx);
    await tx.done;
    return result;
  } catch (error) {
    throw asStoreError(await causeOfFailure(tx, error));
  }
}

/** A failed request aborts its transaction, and the transaction's own error (such as a full disk) tells the cause. */
async function causeOfFailure(tx, error) {
  if (!tx) return error;
  try {
    tx.abort();
  } catch {
    // It has ended already, by itself.
  }
  const ending = await tx.done.then(() => null, (reason) => reason);
  return error instanceof DOMException && error.name === 'AbortError' && ending ? ending : error;
}
