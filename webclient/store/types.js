/** What the store keeps and what it answers with, as types; `openStore(options)` in open.js makes a `Store`. */

/**
 * One record as this phone sees it: what was last pulled, overlaid with this phone's own unsent changes.
 * @typedef {object} RecordView
 * @property {string} kind
 * @property {string} id
 * @property {Record<string, any>} fields what is recorded; a field that is not recorded is missing
 * @property {number} unsent how many of this phone's changes to it have not reached home
 * @property {number | null} at_ms when the fact happened; null for cards
 */

/**
 * One edit to be saved. `record` null or missing makes a new record.
 * @typedef {object} Edit
 * @property {string} kind
 * @property {string | null} [record]
 * @property {Record<string, any>} set field → value; null clears; `voided: true` withdraws the record
 * @property {string[]} [photos] fingerprints of held photos that become photo records of this observation or tree
 */

/**
 * What was saved: ids, and the edits that take it back again (`records.saveAll(saved.undo)`).
 * @typedef {{record: string, change: string, n: number, undo: Edit[]}} Saved
 */

/**
 * A change as it goes over the wire.
 * @typedef {{id: string, n: number, kind: string, record: string, edited_at: string, set: Record<string, any>}} Change
 */

/**
 * A change that home refused, with its reason, waiting to be mended or discarded.
 * @typedef {{id: string, change: Change, problem: Problem, parked_at_ms: number, again?: number,
 *   lacks?: {kind: string, id: string}[]}} Parked `lacks`: records that home did not have; the change goes out again once
 *   it has them; `again`: how often it did
 * @typedef {{type?: string, title?: string, status?: number, detail?: string,
 *   errors?: {field: string, message: string}[]}} Problem
 */

/**
 * A tree's last visit, kept up to date with every save and pull, so that no screen reads all rounds.
 * @typedef {object} Latest
 * @property {string} tree
 * @property {number | null} seen_at_ms when it was last observed; null when never
 * @property {string | null} observation id of that visit's record
 * @property {string | null} round the round of that visit
 * @property {Record<string, any>} fields that visit's fields
 * @property {Record<string, {value: any, at_ms: number}>} known each field's last recorded value within recent visits
 * @property {string | null} place where it stands now: the last move, else the card's place
 * @property {number | null} moved_at_ms
 * @property {number | null} pot_litres what it stands in now: the last potting, else the card's litres
 */

/**
 * @typedef {object} PhotoInfo
 * @property {string} sha256
 * @property {string} type media type
 * @property {number} size_bytes
 * @property {string} taken_at
 * @property {'held' | 'waiting' | 'sent' | 'refused' | 'withdrawn'} state held = taken for a form that is not saved yet
 * @property {string | null} record the photo record's id
 * @property {string | null} tree
 * @property {string | null} observation
 * @property {number} tries
 * @property {number} next_try_at_ms
 * @property {Problem | null} problem
 * @property {boolean} kept whether its bytes are on this phone
 */

/**
 * @typedef {object} PocketSummary
 * @property {number} unsent changes that are not home yet
 * @property {number | null} oldest_at_ms when the oldest entry or photo that is not home was saved, refused ones too
 * @property {number} parked
 * @property {number} photos_waiting
 * @property {number} photos_refused
 */

/**
 * @typedef {object} Records
 * @property {(kind: string, record: string | null, set: Record<string, any>, options?: {photos?: string[],
 *   drafts?: string[]}) => Promise<Saved>} save one transaction, on disk and read back before it resolves; `drafts`: keys
 *   of the drafts that are gone with it; StoreError `invalid` carries `problems`, `full` means that the phone has no room
 * @property {(edits: Edit[], options?: {drafts?: string[]}) => Promise<Saved[]>} saveAll all or none, at most 500
 * @property {(kind: string, id: string) => Promise<RecordView | null>} get
 * @property {(kind: string, options?: {voided?: boolean}) => Promise<RecordView[]>} list facts come in order of time;
 *   withdrawn records only when asked for
 * @property {(code: string) => Promise<{tree: RecordView, former: boolean} | null>} treeByTag
 * @property {(tree: string) => Promise<Latest | null>} latest
 * @property {() => Promise<Map<string, Latest>>} latestAll by tree id
 * @property {(tree: string, limit?: number) => Promise<RecordView[]>} history observations, moves, work, harvests and
 *   photos of a tree, newest first
 * @property {() => Promise<RecordView | null>} roundOpen the newest round that is not finished
 * @property {(round: string) => Promise<{observations: RecordView[], moves: RecordView[], work: RecordView[]}>} ofRound
 * @property {(kind: string) => Promise<number>} count
 */

/**
 * @typedef {object} Outbox
 * @property {() => Promise<PocketSummary>} summary
 * @property {(limit?: number) => Promise<(Change & {saved_at_ms: number})[]>} list oldest first
 * @property {(count_max: number, bytes_max: number) => Promise<Change[]>} next what to send now, in order
 * @property {(limit?: number) => Promise<Parked[]>} parked oldest first
 * @property {(change: string, set: Record<string, any>) => Promise<Saved>} mend sends the refused change again as a new
 *   one with these values on top; refused changes that name its record go again with it, but for those that are wrong
 *   by themselves
 * @property {(change: string) => Promise<void>} discard drops a refused change for good
 * @property {() => Promise<{text: string, left_out: number}>} exportPocket JSON text of everything that is not home yet,
 *   and how many photos it had no room for
 * @property {(answer: SyncAnswer, request: {epoch: string | null, cursor: string | null, changes: Change[]}) =>
 *   Promise<Applied>} applyAnswer outcomes, pulled records and cursor in one transaction; after a page that has more
 *   behind it, last visits are left as they were until the last page or `settle`
 * @property {() => Promise<void>} settle brings last visits up to date after a pull that broke off
 */

/**
 * @typedef {{epoch: string, cursor: string, more: boolean, records: {kind: string, id: string, fields: object}[],
 *   results: {id: string, outcome: 'stored' | 'duplicate' | 'refused', problem?: Problem}[]}} SyncAnswer
 * @typedef {{stored: number, refused: number, again: number, pulled: number, epochChanged: boolean}} Applied `again`:
 *   refused changes that go out once more, since home has now what they name
 */

/**
 * @typedef {object} Photos
 * @property {(photo: {bytes: ArrayBuffer, sha256: string, type: string, taken_at: string}) => Promise<PhotoInfo>} hold
 *   keeps a photo on disk before its form is saved; at most 25 MB
 * @property {(sha256: string) => Promise<void>} holdAgain keeps the photo of a withdrawn visit for its form
 * @property {(sha256: string) => Promise<void>} release drops a held photo that the form no longer wants
 * @property {(sha256: string) => Promise<PhotoInfo | null>} info
 * @property {(sha256: string) => Promise<ArrayBuffer | null>} bytes null when only home has it
 * @property {(now_ms: number, limit: number) => Promise<PhotoInfo[]>} due photos to send now,
 *   oldest first, those that were put off behind the others
 * @property {(sha256: string) => Promise<void>} markSent
 * @property {(sha256: string, next_try_at_ms: number) => Promise<void>} markFailed
 * @property {(sha256: string, problem: Problem) => Promise<void>} markRefused
 * @property {(sha256: string) => Promise<void>} retry offers a refused photo again
 * @property {() => Promise<PhotoInfo[]>} refused
 */

/**
 * @typedef {object} Drafts
 * @property {(key: string) => Promise<{key: string, value: any, saved_at_ms: number} | null>} get
 * @property {(key: string, value: any) => Promise<void>} put an unfinished form, plain data; at most 200,000 characters
 * @property {(key: string) => Promise<void>} drop
 * @property {() => Promise<{key: string, value: any, saved_at_ms: number}[]>} list newest first
 */

/**
 * Answers from home for offline, the latest 120; a new epoch forgets them.
 * @typedef {object} Kept
 * @property {(path: string) => Promise<{path: string, document: any, fetched_at_ms: number} | null>} get
 * @property {(path: string, document: any) => Promise<{path: string, document: any, fetched_at_ms: number}>} put at most
 *   500,000 characters
 */

/**
 * Small values by key. Known keys: `pairing` {device, token, role, collection}, `revoked_at_ms`, `units`, `theme`,
 * `overview` {etag, document, fetched_at_ms}, `last_contact_ms`, `cursor`, `epoch`.
 * @typedef {object} Settings
 * @property {(key: string, otherwise?: any) => Promise<any>} get
 * @property {(values: Record<string, any>) => Promise<void>} set several at once; undefined removes
 */

/**
 * @typedef {object} Store
 * @property {Records} records
 * @property {Outbox} outbox
 * @property {Photos} photos
 * @property {Drafts} drafts
 * @property {Kept} kept
 * @property {Settings} settings
 * @property {(listener: (event: {topic: 'saved' | 'pulled' | 'pocket' | 'photos' | 'settings' | 'closed',
 *   elsewhere: boolean, lost?: boolean}) => void) => (() => void)} subscribe
 *   told after each commit, of this tab or another; `closed` when a newer version in another tab needs the database, or
 *   (`lost`) the browser gave it up, as when it is cleared: reload the page. Returns the end of the subscription
 * @property {() => void} close
 */

export {};
