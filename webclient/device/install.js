/** Finds out how this browser puts the app on the home screen. */

/**
 * @param {(hint: import('./types.js').InstallHint) => void} listener told at once, and again when the way changes
 * @returns {() => void} the end of the watch
 */
export function watchInstall(listener) {
  const onOffer = (event) => {
    // Kept for our own key, instead of the browser's banner at a moment of its choice.
    event.preventDefault();
    const prompt = async () => {
      await event.prompt();
      return (await event.userChoice).outcome === 'accepted';
    };
    listener({ how: 'prompt', prompt });
  };
  const onInstalled = () => listener({ how: 'installed', prompt: null });
  window.addEventListener('beforeinstallprompt', onOffer);
  window.addEventListener('appinstalled', onInstalled);
  listener({ how: howNow(), prompt: null });
  return () => {
    window.removeEventListener('beforeinstallprompt', onOffer);
    window.removeEventListener('appinstalled', onInstalled);
  };
}

function howNow() {
  if (matchMedia('(display-mode: standalone)').matches || navigator.standalone) return 'installed';
  return isApplePhone(navigator) ? 'share-menu' : 'browser-menu';
}

/** An iPad calls itself a Mac, but no Mac has a touch screen. */
function isApplePhone({ userAgent, maxTouchPoints }) {
  return /iPhone|iPad|iPod/.test(userAgent) || (/Macintosh/.test(userAgent) && maxTouchPoints > 1);
}
