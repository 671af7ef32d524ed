// The composition root: opens the store, makes transport, engine and device parts, and hands them to the screens.
import { readPhoto } from './device/camera.js';
import { watchConnectivity } from './device/connectivity.js';
import { watchInstall } from './device/install.js';
import { createScanner } from './device/scanner.js';
import { keepStorage, storageState } from './device/storage.js';
import { createWakeLock } from './device/wakelock.js';
import { SI_UNITS } from './core/units.js';
import { openStore } from './store/open.js';
import { createEngine } from './sync/engine.js';
import { createTransport } from './sync/transport.js';
import { speak } from './ui/language.js';
import { runScreens } from './ui/run.js';

const device = { readPhoto, watchInstall, createScanner, keepStorage, storageState, createWakeLock };

/** `auto` follows the phone; the other two override it. */
function showTheme(theme) {
  document.documentElement.dataset.theme = theme;
}

async function start() {
  const root = document.getElementById('app');
  const store = await openStore();
  const [units, theme, language, pairing] = await Promise.all([
    store.settings.get('units', SI_UNITS), store.settings.get('theme', 'auto'), store.settings.get('language', 'auto'),
    store.settings.get('pairing')]);
  showTheme(theme);
  await speak(language);
  const home = createTransport({
    token: async () => (await store.settings.get('pairing'))?.token ?? null,
    manner: async () => ({ 'Accept-Language': document.documentElement.lang, 'Leafwalk-Units': Object.values(await store.settings.get('units', SI_UNITS)).join(' ') }),
  });
  const engine = createEngine({ store, transport: home });
  if (!pairing && location.hash === '' && location.pathname === '/') history.replaceState(null, '', '/#/pair');
  const screens = runScreens(root, { store, engine, home, device, units, theme, language, showTheme, role: pairing?.role });
  engine.start(watchConnectivity);
  watchForUpdate(screens);
}

/** A new version waits until the grower takes it, so that nothing changes in the middle of a round. */
async function watchForUpdate(screens) {
  if (!('serviceWorker' in navigator)) return;
  let asked = false;
  navigator.serviceWorker.addEventListener('controllerchange', () => asked && location.reload());
  const registration = await navigator.serviceWorker.register('/sw.js').catch((error) => console.warn('no service worker', error));
  if (!registration) return;
  const offer = (worker) => screens.offerUpdate(() => {
    asked = true;
    worker.postMessage('use-new-version');
  });
  if (registration.waiting && navigator.serviceWorker.controller) offer(registration.waiting);
  registration.addEventListener('updatefound', () => {
    const worker = registration.installing;
    worker.addEventListener('statechange', () => {
      if (worker.state === 'installed' && navigator.serviceWorker.controller) offer(worker);
    });
  });
}

/** Without its store Leafwalk can keep nothing, so it says so instead of letting anyone type. */
function tellFailure(error) {
  const paragraph = document.createElement('p');
  paragraph.className = 'opening';
  paragraph.textContent = `Leafwalk could not open its storage on this phone. ${error.message}`;
  document.getElementById('app').replaceChildren(paragraph);
}

start().catch(tellFailure);
