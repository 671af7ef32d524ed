/** What the device modules offer, as types. */

/**
 * `createScanner({onText, onState})` in scanner.js.
 * @typedef {object} Scanner
 * @property {() => Promise<void>} prepare loads worker and decoder, so that the first scan waits for nothing
 * @property {(video: HTMLVideoElement) => Promise<void>} start asks for the rear camera; rejects with CameraError
 *   (`kind`: insecure, missing, denied, taken, broken)
 * @property {() => void} stop
 * @property {() => boolean} hasTorch known after start
 * @property {(on: boolean) => Promise<boolean>} torch resolves to whether it is lit
 * @property {(file: Blob) => Promise<string | null>} readFile text of a code in a photo; null when none is seen
 * @property {() => void} close ends the worker too
 * `onText(text)` is called for each reading, the same text not again within two seconds; `onState(state)` with
 * starting, looking, stopped.
 */

/**
 * camera.js: `readPhoto(file)` and `grabPhoto(video)`.
 * @typedef {{bytes: ArrayBuffer, sha256: string, type: string, width_px: number, height_px: number}} TakenPhoto
 */

/**
 * storage.js: `storageState()` and `keepStorage()` (asks the browser never to clear the data by itself).
 * @typedef {{persisted: boolean | null, used_bytes: number | null, free_bytes: number | null}} StorageState
 */

/**
 * install.js: `watchInstall(listener)` → end. `how`: installed already; a prompt can be shown (`prompt()`);
 * the share menu (iPhone, iPad); the browser's own menu.
 * @typedef {{how: 'installed' | 'prompt' | 'share-menu' | 'browser-menu',
 *   prompt: (() => Promise<boolean>) | null}} InstallHint
 */

/**
 * wakelock.js: `createWakeLock()` → {hold(), release()}: the screen stays lit while held, also after a return to the
 * page. connectivity.js: `watchConnectivity(wake)` → end; calls `wake` when the phone gets a network or the page is
 * seen again.
 */

export {};
