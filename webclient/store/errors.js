/** The one error that the store raises, with what went wrong as a word that a screen can act on. */

import { sayings } from '../core/sayings.js';

/**
 * `kind`: invalid (`problems` names the fields at fault, where some are), missing (no such record or change), limit
 * (a bound of this app is reached), full (the phone has no room), closed (another tab runs a newer version, or the
 * browser gave the storage up), broken (the browser's storage failed).
 */
export class StoreError extends Error {
  /**
   * @param {'invalid' | 'missing' | 'limit' | 'full' | 'closed' | 'broken'} kind
   * @param {string} message what happened and what to do
   * @param {{problems?: import('../core/shapes.js').Problem[] | null, cause?: unknown}} [more]
   */
  constructor(kind, message, { problems = null, cause } = {}) {
    super(message, { cause });
    this.name = 'StoreError';
    this.kind = kind;
    this.problems = problems;
  }
}

const BY_NAME = {
  QuotaExceededError: ['full', 'phoneFull'],
  InvalidStateError: ['closed', 'storageClosed'],
};

/** The browser's own storage errors as a StoreError; anything else passes as it is. */
export function asStoreError(error) {
  if (!(error instanceof DOMException)) return error;
  const [kind, saying] = BY_NAME[error.name] ?? ['broken'];
  return new StoreError(kind, saying ? sayings[saying] : sayings.notStored(error.name), { cause: error });
}
