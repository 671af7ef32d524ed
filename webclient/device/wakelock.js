/** Keeps the screen lit during a round; browsers let go of the lock when the page is hidden, so it is taken again. */

/** @returns {{hold: () => Promise<boolean>, release: () => Promise<void>}} `hold` resolves to whether it is held */
export function createWakeLock() {
  let wanted = false;
  let lock = null;

  async function take() {
    if (!wanted || !navigator.wakeLock || document.visibilityState !== 'visible') return false;
    if (lock && !lock.released) return true;
    // A phone that saves its battery says no; the round goes on with a screen that dims.
    lock = await navigator.wakeLock.request('screen').catch(() => null);
    if (!wanted) await drop();
    return lock !== null;
  }

  async function drop() {
    const held = lock;
    lock = null;
    await held?.release();
  }

  return {
    hold() {
      if (!wanted) document.addEventListener('visibilitychange', take);
      wanted = true;
      return take();
    },
    async release() {
      wanted = false;
      document.removeEventListener('visibilitychange', take);
      await drop();
    },
  };
}
