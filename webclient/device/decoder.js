/** The worker that reads codes, as a function from a picture to a text. */

const ANSWER_MS_MAX = 10_000;
const CAN_DRAW_IN_WORKER = typeof OffscreenCanvas === 'function';

/**
 * @typedef {object} Decoder
 * @property {Promise<void>} ready resolves when the decoder is loaded; rejects when it cannot be
 * @property {(source: CanvasImageSource, area: {x: number, y: number, width: number, height: number},
 *   longest_px: number, still: boolean) => Promise<string | null>} read the text of a code within that area of the
 *   source, which is scaled down so that its longer side has at most `longest_px`
 * @property {() => void} close
 */

/** @returns {Decoder} */
export function createDecoder() {
  const worker = new Worker(new URL('./scanner.worker.js', import.meta.url), { type: 'module' });
  const waiting = new Map();
  let last_id = 0;
  let settleReady;
  const ready = new Promise((resolve, reject) => {
    settleReady = { resolve, reject };
  });
  // A scanner that is closed before it was ever used leaves nobody to hear of this.
  ready.catch(() => {});
  worker.addEventListener('message', ({ data }) => {
    if ('ready' in data) return data.ready ? settleReady.resolve() : settleReady.reject(new Error(data.error));
    const request = waiting.get(data.id);
    waiting.delete(data.id);
    return data.error ? request?.reject(new Error(data.error)) : request?.resolve(data.text);
  });
  worker.addEventListener('error', ({ message }) => (
    settleReady.reject(new Error(message || 'The code reader did not load.'))
  ));

  async function read(source, area, longest_px, still) {
    await ready;
    const picture = await pictureOf(source, area, longest_px);
    const id = ++last_id;
    return new Promise((resolve, reject) => {
      waiting.set(id, { resolve, reject });
      setTimeout(() => waiting.delete(id) && reject(new Error('The code reader does not answer.')), ANSWER_MS_MAX);
      worker.postMessage({ id, picture, still }, [picture instanceof ImageBitmap ? picture : picture.data.buffer]);
    });
  }

  return { ready, read, close: () => worker.terminate() };
}

async function pictureOf(source, { x, y, width, height }, longest_px) {
  const scale = Math.min(1, longest_px / Math.max(width, height));
  const resizeWidth = Math.max(1, Math.round(width * scale));
  const resizeHeight = Math.max(1, Math.round(height * scale));
  if (CAN_DRAW_IN_WORKER) {
    return createImageBitmap(source, x, y, width, height, { resizeWidth, resizeHeight, resizeQuality: 'medium' });
  }
  const canvas = Object.assign(document.createElement('canvas'), { width: resizeWidth, height: resizeHeight });
  const context = canvas.getContext('2d', { willReadFrequently: true });
  context.drawImage(source, x, y, width, height, 0, 0, resizeWidth, resizeHeight);
  return context.getImageData(0, 0, resizeWidth, resizeHeight);
}
