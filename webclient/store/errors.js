/** The one error that the store raises, with what went wrong as a word that a screen can act on. */

/**
 * `kind`: invalid (`problems` names the fields at fault, where some are), missing (no such record or change), limit
 * (a bound of this app is reached), full (the phone has no room), closed (another tab runs a newer version), broken
 * (the browser's storage failed).
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
  QuotaExceededError: [
    'full', 'This phone has no room left. Free some space, then save again; nothing saved so far is lost.',
  ],
  InvalidStateError: ['closed', 'A newer version is open in another tab. Close this page and open it again.'],
};

/** The browser's own storage errors as a StoreError; anything else passes as it is. */
export function asStoreError(error) {
  if (!(error instanceof DOMException)) return error;
  const [kind, message] = BY_NAME[error.name]
    ?? ['broken', `The browser could not store this (${error.message}). Try again; export the pocket if it goes on.`];
  return new StoreError(kind, message, { cause: error });
}
