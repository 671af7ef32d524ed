/** One run of the engine, from the first change to the last photo, with a bound on every loop. */

import { sayings } from '../core/sayings.js';
import { HomeError } from './home_error.js';

/** Most changes and bytes in one request, and most records that are asked for in one answer. */
export const CHANGES_MAX = 500;
export const REQUEST_BYTES_MAX = 4_000_000;
export const RECORDS_MAX = 2000;

/** After an answer within this time the next request may be larger by GROWTH, and would still fit in the time limit. */
const QUICK_MS = 6000;
const GROWTH = 4;

const REQUESTS_MAX = 2000;
const EPOCHS_MAX = 3;
const PHOTOS_A_RUN_MAX = 500;
/** A photo that home could not take so many times waits for the grower to try again. */
const PHOTO_TRIES_MAX = 12;
/** After so many photos that home could not take, the run ends and comes back later. */
const PHOTOS_PUT_OFF_MAX = 3;
const PHOTO_RETRY_FIRST_MS = 30_000;
const PHOTO_RETRY_MS_MAX = 3_600_000;
const OUTCOMES = ['stored', 'duplicate', 'refused'];

/**
 * @param {{store: import('../store/types.js').Store, transport: import('./types.js').Transport,
 *   clock: {now: () => number}, onProgress: (progress: {sent: number, pulled: number, photos: number}) => void,
 *   pace: {changes_max: number}, hurried?: boolean}} parts `pace` is what the network bore, kept from run to run; a
 *   hurried run sends photos that were put off too
 * @returns {Promise<{phase: 'idle' | 'offline' | 'busy' | 'revoked' | 'trouble', problem: object | null,
 *   retry_after_ms?: number | null}>}
 */
export async function runOnce(parts) {
  const { settings } = parts.store;
  const pairing = await settings.get('pairing');
  const progress = { sent: 0, pulled: 0, photos: 0 };
  const count = (values) => parts.onProgress(Object.assign(progress, values));
  try {
    await exchange(parts, progress, count).finally(() => parts.store.outbox.settle());
    await sendPhotos(parts, progress, count);
    return { phase: 'idle', problem: await fetchOverview(parts) };
  } catch (error) {
    // A phone that was paired anew in the meantime is not shut out by what its old token was told.
    const same = (await settings.get('pairing'))?.token === pairing?.token;
    if (error.kind === 'unauthorised' && same) await settings.set({ revoked_at_ms: parts.clock.now() });
    return outcomeOf(error);
  }
}

function outcomeOf(error) {
  const problem = error.problem ?? { title: error.message };
  const phases = { offline: 'offline', busy: 'busy', unauthorised: 'revoked' };
  return { phase: phases[error.kind] ?? 'trouble', problem, retry_after_ms: error.retry_after_ms ?? null };
}

/** Sends and pulls until nothing waits on either side. */
async function exchange({ store, transport, clock, pace }, progress, count) {
  let epochs = 0;
  for (let requests = 0; requests < REQUESTS_MAX; requests += 1) {
    const request = await nextRequest(store, pace.changes_max);
    const asked_at_ms = clock.now();
    let answer;
    try {
      answer = checkedAnswer(await transport.sync(request), request);
    } catch (error) {
      // Whatever a weak network broke off, it bears more easily by halves.
      if (error.kind === 'offline') pace.changes_max = Math.ceil(pace.changes_max / 2);
      if (!isAboutContent(error) || request.changes.length === 0) throw error;
      if (request.changes.length === 1) await parkAlone({ store, transport }, request, error);
      pace.changes_max = Math.ceil(request.changes.length / 2);
      continue;
    }
    if (clock.now() - asked_at_ms < QUICK_MS) pace.changes_max = Math.min(CHANGES_MAX, pace.changes_max * GROWTH);
    const applied = await store.outbox.applyAnswer(answer, request);
    count({ sent: progress.sent + applied.stored + applied.refused, pulled: progress.pulled + applied.pulled });
    epochs += applied.epochChanged ? 1 : 0;
    if (epochs > EPOCHS_MAX) throw garbled('Home names a new epoch with every answer.');
    if (applied.epochChanged || answer.more) continue;
    if ((await store.outbox.next(1, 0)).length === 0) return;
  }
  throw garbled(`There is still more after ${REQUESTS_MAX} requests; the rest follows with the next sync.`);
}

async function nextRequest(store, changes_max) {
  const [epoch, cursor, changes] = await Promise.all([
    store.settings.get('epoch'), store.settings.get('cursor'), store.outbox.next(changes_max, REQUEST_BYTES_MAX),
  ]);
  return { protocol: 1, epoch, cursor, limit: Math.ceil(RECORDS_MAX * changes_max / CHANGES_MAX), changes };
}

/** A refusal that may lie in what was sent, rather than in who asks or when. */
function isAboutContent(error) {
  return error instanceof HomeError && error.kind === 'refused' && [400, 413, 422].includes(error.status);
}

/**
 * Home refuses a whole request although it holds one change only. If it answers the same request without that change,
 * the change is at fault and is parked, so that it holds up no other.
 */
async function parkAlone({ store, transport }, request, error) {
  const bare = { ...request, changes: [] };
  const answer = checkedAnswer(await transport.sync(bare), bare);
  const [{ id }] = request.changes;
  const results = [{ id, outcome: 'refused', problem: error.problem ?? { title: error.message } }];
  await store.outbox.applyAnswer({ ...answer, results }, request);
}

/** An answer is taken in only when it is whole: anything else could lose an outcome or leave a gap. */
function checkedAnswer(answer, request) {
  const whole = typeof answer?.epoch === 'string' && typeof answer.cursor === 'string'
    && typeof answer.more === 'boolean' && Array.isArray(answer.results) && Array.isArray(answer.records)
    && answer.records.every(isRecord);
  if (!whole) throw garbled('The answer did not come from home, or from a version that this app does not know.');
  const told = new Set(answer.results.filter(({ outcome }) => OUTCOMES.includes(outcome)).map(({ id }) => id));
  if (!request.changes.every(({ id }) => told.has(id))) throw garbled('Home left a change without an outcome.');
  if (answer.more && answer.epoch === request.epoch && answer.cursor === request.cursor) {
    throw garbled('Home promises more, but its cursor stands still.');
  }
  return answer;
}

function isRecord(record) {
  return typeof record?.kind === 'string' && typeof record.id === 'string' && typeof record.fields === 'object'
    && record.fields !== null;
}

function garbled(message) {
  return new HomeError('garbled', message);
}

/** Photos go one by one after everything else; one that fails waits by itself and holds up no other. */
async function sendPhotos({ store, transport, clock, hurried }, progress, count) {
  let put_off = 0;
  for (const photo of await store.photos.due(hurried ? Infinity : clock.now(), PHOTOS_A_RUN_MAX)) {
    try {
      await sendPhoto(store, transport, photo);
      count({ photos: progress.photos + 1 });
    } catch (error) {
      if (!['offline', 'busy', 'refused'].includes(error.kind)) throw error;
      await setAside(store, photo, error, clock.now());
      put_off += error.kind === 'busy' ? 1 : 0;
      if (error.kind === 'offline' || put_off >= PHOTOS_PUT_OFF_MAX) throw error;
    }
  }
}

async function sendPhoto(store, transport, { sha256, type }) {
  if (!(await transport.hasPhoto(sha256))) {
    const bytes = await store.photos.bytes(sha256);
    if (!bytes) throw new HomeError('refused', sayings.photoNotHere);
    await transport.putPhoto(sha256, bytes, type);
  }
  await store.photos.markSent(sha256);
}

/** A photo too large for a weak network waits too, so that the next run begins with another; that never gives it up. */
function setAside(store, { sha256, tries }, error, now_ms) {
  const given_up = error.kind === 'refused' || (error.kind === 'busy' && tries + 1 >= PHOTO_TRIES_MAX);
  if (given_up) return store.photos.markRefused(sha256, error.problem ?? { title: error.message });
  return store.photos.markFailed(sha256, now_ms + Math.min(PHOTO_RETRY_FIRST_MS * 2 ** tries, PHOTO_RETRY_MS_MAX));
}

/**
 * The overview is a look at what is home already: when home cannot make it, the last one stays and the run is done.
 * @returns {Promise<object | null>} why there is no new one
 */
async function fetchOverview({ store, transport, clock }) {
  const known = await store.settings.get('overview');
  try {
    const overview = (await transport.overview(known?.etag ?? null)) ?? known;
    if (overview) await store.settings.set({ overview: { ...overview, fetched_at_ms: clock.now() } });
    return null;
  } catch (error) {
    if (!['busy', 'refused'].includes(error.kind)) throw error;
    return error.problem ?? { title: error.message };
  }
}
