/** What passes between the engine, its transport and the screens, as types. */

/**
 * What the engine is doing; `createEngine(parts).state()` and every subscriber gets one.
 * @typedef {object} SyncState
 * @property {'unpaired' | 'idle' | 'syncing' | 'offline' | 'busy' | 'revoked' | 'trouble'} phase
 *   unpaired: no home yet · idle: all done · offline: home cannot be reached · busy: home asks to come back later ·
 *   revoked: home shut this phone out, everything is kept until it is paired again · trouble: home's answer makes no
 *   sense or it refused the request; `problem` says why
 * @property {import('../store/types.js').Problem | null} problem why a run failed, or, when idle, why there
 *   is no new overview
 * @property {import('../store/types.js').PocketSummary} pocket
 * @property {number | null} last_contact_ms when home last answered in full
 * @property {number | null} next_try_ms when the engine tries again by itself
 * @property {{collection: string, role: 'owner' | 'helper', device: string} | null} pairing
 * @property {{sent: number, pulled: number, photos: number}} progress counts of the current or last run
 */

/**
 * @typedef {object} Engine
 * @property {(signals?: (wake: () => void) => (() => void)) => Promise<void>} start drains now, after each save, by
 *   timer, and whenever `signals` (device/connectivity.js `watchConnectivity`) calls `wake`
 * @property {() => void} stop
 * @property {() => Promise<SyncState>} syncNow a run, with the photos that were put off too; one that is
 *   asked for during a run follows it; never rejects
 * @property {(code: string, device_name: string) => Promise<SyncState>} pair rejects with HomeError when home says no
 * @property {() => Promise<void>} unpair forgets the token only; records and pocket stay
 * @property {() => SyncState} state
 * @property {(listener: (state: SyncState) => void) => (() => void)} subscribe calls back at once and on every change
 */

/**
 * The only thing that talks to home; `createTransport(options)`. Every method rejects with `HomeError`, whose `kind`
 * is offline, unauthorised, refused, busy or garbled, with `status`, `problem` and `retry_after_ms` where known.
 * @typedef {object} Transport
 * @property {(code: string, device_name: string) => Promise<{device: string, token: string, role: string,
 *   collection: string, epoch: string}>} pair
 * @property {(request: object) => Promise<import('../store/types.js').SyncAnswer>} sync
 * @property {(sha256: string) => Promise<boolean>} hasPhoto garbled when the answer is not home's
 * @property {(sha256: string, bytes: ArrayBuffer, type: string) => Promise<void>} putPhoto done once home itself
 *   says that it has the photo
 * @property {(sha256: string, width_px?: number) => Promise<Blob>} getPhoto
 * @property {(etag: string | null) => Promise<{etag: string | null, document: any} | null>} overview null: unchanged
 * @property {(path: string) => Promise<any>} getJson e.g. `/reports/alerts?on=2025-05-03`, `/devices`, `/settings`
 * @property {(method: 'POST' | 'PUT' | 'DELETE', path: string, body?: any) => Promise<any>} sendJson e.g. POST
 *   `/pairings`; null where home answers without a body
 * @property {(path: string, file: Blob) => Promise<any>} sendFile a CSV file, e.g. to `/passports`
 * @property {(path: string) => Promise<Blob>} getFile e.g. `/tags.pdf?blank=8`
 */

export {};
