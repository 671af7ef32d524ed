/** Says when the phone may have a network again: it came online, or the page is looked at again. */

/**
 * @param {() => void} wake
 * @returns {() => void} the end of the watch
 */
export function watchConnectivity(wake) {
  const onVisible = () => document.visibilityState === 'visible' && wake();
  window.addEventListener('online', wake);
  // A page that comes back from the browser's cache of left pages fires only this.
  window.addEventListener('pageshow', onRestored);
  document.addEventListener('visibilitychange', onVisible);
  function onRestored(event) {
    if (event.persisted) wake();
  }
  return () => {
    window.removeEventListener('online', wake);
    window.removeEventListener('pageshow', onRestored);
    document.removeEventListener('visibilitychange', onVisible);
  };
}
