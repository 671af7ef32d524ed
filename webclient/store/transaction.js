/** Runs one read-write transaction that is all or nothing, and on disk before it resolves unless asked otherwise. */

import { unwrap } from 'idb';
import { asStoreError } from './errors.js';

/**
 * `work` may await nothing but requests of the given transaction, or the browser commits it early. Requests that it
 * does not await are carried out all the same; one that fails undoes the transaction.
 * @template T
 * @param {import('idb').IDBPDatabase} db
 * @param {readonly string[]} stores
 * @param {(tx: import('idb').IDBPTransaction) => Promise<T>} work
 * @param {{durability?: 'strict' | 'relaxed'}} [options] relaxed: a power cut may undo it, as a whole
 * @returns {Promise<T>}
 */
export async function writeAtOnce(db, stores, work, { durability = 'strict' } = {}) {
  let tx = null;
  const failed = [];
  try {
    tx = db.transaction(stores, 'readwrite', { durability });
    // The rejection is reported by the awaits below; this keeps it from being reported a second time as unhandled.
    tx.done.catch(() => {});
    unwrap(tx).addEventListener('error', ({ target }) => failed.push(target.error));
    const result = await work(tx);
    // Said outright, since the browser would otherwise first hand back the result of every request.
    tx.commit();
    await tx.done;
    return result;
  } catch (error) {
    throw asStoreError(await causeOfFailure(tx, error, failed));
  }
}

/** A failed request undoes its transaction, and that failure, or the transaction's own (a full disk), is the cause. */
async function causeOfFailure(tx, error, failed) {
  if (!tx) return error;
  try {
    tx.abort();
  } catch {
    // It has ended already, by itself.
  }
  await tx.done.catch(() => {});
  if (!(error instanceof DOMException)) return error;
  return unwrap(tx).error ?? failed.find(({ name }) => name !== 'AbortError') ?? error;
}

/**
 * A store of the transaction without idb around it: wrapping a request costs more than the request itself, which counts
 * where there are thousands.
 * @param {import('idb').IDBPTransaction} tx
 * @param {string} name
 * @returns {IDBObjectStore}
 */
export function bareStore(tx, name) {
  return unwrap(tx.objectStore(name));
}

/**
 * What a bare store answers.
 * @param {IDBRequest} request
 * @returns {Promise<any>}
 */
export function answerOf(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}
