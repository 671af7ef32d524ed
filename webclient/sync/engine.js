/** Keeps phone and home in step: one run at a time sends what waits, pulls what is new, then sends photos. */

import { CHANGES_MAX, runOnce } from './run.js';

/** A run follows a save after this rest, so that a burst of saves goes in one request. */
const AFTER_SAVE_MS = 1500;
const IDLE_MS = 5 * 60_000;
const RETRY_FIRST_MS = 15_000;
const RETRY_MS_MAX = 15 * 60_000;
/** How long one tab waits for another that is sending, before it leaves the work to that one. */
const LOCK_WAIT_MS_MAX = 120_000;
const LOCK_NAME = 'leafwalk-sending';

const PHASES_THAT_RETRY = ['offline', 'busy', 'trouble'];

/**
 * @param {object} parts
 * @param {import('../store/types.js').Store} parts.store
 * @param {import('./types.js').Transport} parts.transport
 * @param {LockManager | undefined} [parts.locks] lets only one tab send; without it this tab trusts to be alone
 * @param {{now: () => number, setTimeout: Function, clearTimeout: Function, random: () => number}} [parts.clock]
 * @returns {import('./types.js').Engine}
 */
export function createEngine({ store, transport, locks = navigator.locks, clock = BROWSER_CLOCK }) {
  const listeners = new Set();
  let state = {
    phase: 'unpaired', problem: null, last_contact_ms: null, next_try_ms: null, pairing: null,
    pocket: { unsent: 0, oldest_at_ms: null, parked: 0, photos_waiting: 0, photos_refused: 0 },
    progress: { sent: 0, pulled: 0, photos: 0 },
  };
  const pace = { changes_max: CHANGES_MAX };
  let hurried = false;
  let running = null;
  let following = null;
  let failures = 0;
  let timer = null;
  let ends = [];

  function tell(values) {
    state = { ...state, ...values };
    listeners.forEach((listener) => listener(state));
  }

  async function refresh() {
    const [pocket, pairing, revoked_at_ms, last_contact_ms] = await Promise.all([
      store.outbox.summary(), store.settings.get('pairing'), store.settings.get('revoked_at_ms'),
      store.settings.get('last_contact_ms'),
    ]);
    const stopped = revoked_at_ms !== null ? 'revoked' : pairing ? null : 'unpaired';
    const phase = stopped ?? (['revoked', 'unpaired'].includes(state.phase) ? 'idle' : state.phase);
    tell({ pocket, last_contact_ms, phase, pairing: pairing && publicPart(pairing) });
    return stopped === null;
  }

  async function run() {
    if (!(await refresh())) return;
    tell({ phase: 'syncing', next_try_ms: null, progress: { sent: 0, pulled: 0, photos: 0 } });
    const onProgress = (progress) => tell({ progress: { ...progress } });
    const parts = { store, transport, clock, onProgress, pace, hurried };
    hurried = false;
    const outcome = await underLock(locks, () => runOnce(parts)).catch(troubleOf);
    failures = outcome.phase === 'idle' ? 0 : failures + 1;
    tell({ phase: outcome.phase, problem: outcome.problem });
    await refresh();
    if (ends.length > 0) plan(waitAfter(outcome, failures, clock));
    tell({});
  }

  /** A run never rejects; one that is asked for while another goes on follows it, and all who ask share it. */
  function sync() {
    if (running) {
      following ??= running.then(() => {
        following = null;
        return sync();
      });
      return following;
    }
    running = run().catch((error) => tell(troubleOf(error))).then(() => {
      running = null;
      return state;
    });
    return running;
  }

  /** Whoever plans tells of it, with what else there is to tell: each telling draws the screen. */
  function plan(wait_ms) {
    clock.clearTimeout(timer);
    if (state.phase === 'revoked' || state.phase === 'unpaired') return;
    timer = clock.setTimeout(sync, wait_ms);
    state = { ...state, next_try_ms: clock.now() + wait_ms };
  }

  function onCommit({ topic, elsewhere }) {
    if (topic === 'saved' && !elsewhere) plan(AFTER_SAVE_MS);
    if (topic !== 'pulled') refresh().catch((error) => tell(troubleOf(error)));
  }

  return {
    syncNow() {
      hurried = true;
      return sync();
    },
    state: () => state,
    subscribe(listener) {
      listeners.add(listener);
      listener(state);
      return () => listeners.delete(listener);
    },
    async start(signals = () => () => {}) {
      ends = [store.subscribe(onCommit), signals(sync)];
      await sync();
    },
    stop() {
      clock.clearTimeout(timer);
      ends.forEach((end) => end());
      ends = [];
    },
    async pair(code, device_name) {
      const { device, token, role, collection } = await transport.pair(code, device_name);
      await store.settings.set({ pairing: { device, token, role, collection }, revoked_at_ms: undefined });
      return sync();
    },
    async unpair() {
      await store.settings.set({ pairing: undefined, revoked_at_ms: undefined });
      await refresh();
    },
  };
}

const BROWSER_CLOCK = {
  now: Date.now,
  setTimeout: (task, wait_ms) => setTimeout(task, wait_ms),
  clearTimeout: (timer) => clearTimeout(timer),
  random: Math.random,
};

/** Another tab that sends for too long has the work already; this one looks again later. */
async function underLock(locks, task) {
  if (!locks) return task();
  try {
    return await locks.request(LOCK_NAME, { signal: AbortSignal.timeout(LOCK_WAIT_MS_MAX) }, task);
  } catch (error) {
    if (['AbortError', 'TimeoutError'].includes(error.name)) return { phase: 'idle', problem: null };
    throw error;
  }
}

/** Failed runs come back after doubling rests, each spread by a fifth so that phones do not arrive together. */
function waitAfter({ phase, retry_after_ms }, failures, clock) {
  if (!PHASES_THAT_RETRY.includes(phase)) return IDLE_MS;
  const doubled_ms = Math.min(RETRY_FIRST_MS * 2 ** (failures - 1), RETRY_MS_MAX);
  return Math.max(doubled_ms * (0.8 + 0.4 * clock.random()), Math.min(retry_after_ms ?? 0, RETRY_MS_MAX));
}

function troubleOf(error) {
  return { phase: 'trouble', problem: { title: error.message } };
}

/** The token stays in the store. */
function publicPart({ device, role, collection }) {
  return { device, role, collection };
}
