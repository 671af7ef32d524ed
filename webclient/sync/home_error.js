/** The one error of everything that talks to home, with its kind as a word that a screen can act on. */

/**
 * `kind`: offline (no answer in time), unauthorised (token unknown or revoked), refused (home says no to the request),
 * busy (home asks to come back later), garbled (the answer is none that home gives, as behind a hotel's sign-in page).
 */
export class HomeError extends Error {
  /**
   * @param {'offline' | 'unauthorised' | 'refused' | 'busy' | 'garbled'} kind
   * @param {string} message
   * @param {{status?: number, problem?: object | null, retry_after_ms?: number | null, cause?: unknown}} [more]
   */
  constructor(kind, message, { status = 0, problem = null, retry_after_ms = null, cause } = {}) {
    super(message, { cause });
    this.name = 'HomeError';
    Object.assign(this, { kind, status, problem, retry_after_ms });
  }
}
