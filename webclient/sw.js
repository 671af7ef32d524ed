/* The service worker: keeps every file of the app on the phone, so that it starts without signal. Whoever serves this
   script puts one line before it that sets self.PRECACHE to {version, files: {path: integrity}}. */

const CACHE_PREFIX = 'leafwalk-files-';
const CACHE_NAME = CACHE_PREFIX + self.PRECACHE.version;
const FILES = new Map(Object.entries(self.PRECACHE.files));

// A new version waits until the page asks for it, so that a form in progress is never pulled from under the thumb.
self.addEventListener('install', (event) => event.waitUntil(keepFiles()));
self.addEventListener('activate', (event) => event.waitUntil(dropOldFiles()));
self.addEventListener('message', ({ data }) => {
  if (data === 'use-new-version') self.skipWaiting();
});

self.addEventListener('fetch', (event) => {
  const { method, mode, url } = event.request;
  const { origin, pathname } = new URL(url);
  if (method !== 'GET' || origin !== self.location.origin || pathname.startsWith('/api/')) return;
  if (FILES.has(pathname)) event.respondWith(keptOrFetched(pathname, event.request));
  // Every address of the app, such as a scanned /t/CODE, is the same page.
  else if (mode === 'navigate') event.respondWith(keptOrFetched('/', event.request));
});

async function keepFiles() {
  const cache = await caches.open(CACHE_NAME);
  // Past the browser's own cache, and only what bears its hash: a stale file among new ones, or a hotel's sign-in page in
  // the place of one, would break the version. Then none is kept, and the browser tries the whole version again later.
  await cache.addAll([...FILES].map(([file, integrity]) => (
    new Request(file, { cache: 'reload', redirect: 'error', integrity })
  )));
}

async function dropOldFiles() {
  const old = (await caches.keys()).filter((name) => name.startsWith(CACHE_PREFIX) && name !== CACHE_NAME);
  await Promise.all(old.map((name) => caches.delete(name)));
  await self.clients.claim();
}

async function keptOrFetched(file, request) {
  const cache = await caches.open(CACHE_NAME);
  return (await cache.match(file)) ?? fetch(request);
}
