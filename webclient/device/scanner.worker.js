/** Reads QR codes from pictures, off the main thread; one request at a time, answered with the text or null. */

import { prepareZXingModule, readBarcodes } from '../vendor/zxing-wasm/reader/index.js';

// The decoder's own default would fetch its wasm from elsewhere; ours comes from home and works offline.
const WASM_URL = new URL('../vendor/zxing-wasm/reader/zxing_reader.wasm', import.meta.url).href;
const LIVE = {
  formats: ['QRCode'], maxNumberOfSymbols: 1, tryHarder: false, tryRotate: true, tryInvert: false, tryDownscale: true,
};
const STILL = { ...LIVE, tryHarder: true, tryInvert: true };

let canvas = null;

prepareZXingModule({ overrides: { locateFile: () => WASM_URL }, fireImmediately: true }).then(
  () => self.postMessage({ ready: true }),
  (error) => self.postMessage({ ready: false, error: String(error?.message ?? error) }),
);

self.addEventListener('message', async ({ data: { id, picture, still } }) => {
  try {
    const [found] = await readBarcodes(pixelsOf(picture), still ? STILL : LIVE);
    self.postMessage({ id, text: found?.isValid ? found.text : null });
  } catch (error) {
    self.postMessage({ id, text: null, error: String(error?.message ?? error) });
  }
});

/** A bitmap is drawn out into pixels here; browsers that cannot draw in a worker send pixels already. */
function pixelsOf(picture) {
  if (!(picture instanceof ImageBitmap)) return picture;
  const { width, height } = picture;
  if (canvas?.width !== width || canvas?.height !== height) canvas = new OffscreenCanvas(width, height);
  const context = canvas.getContext('2d', { willReadFrequently: true });
  context.drawImage(picture, 0, 0);
  picture.close();
  return context.getImageData(0, 0, width, height);
}
