/** The live scanner: rear camera, torch, and frames to the decoder one at a time, the middle of the picture first. */

import { openPicture } from './camera.js';
import { CameraError, asCameraError } from './camera_error.js';
import { createDecoder } from './decoder.js';

/** A rest between frames, so that the phone stays cool; about eight looks a second. */
const FRAME_REST_MS = 90;
/** The same text is not reported again within this time, so that one tag is one scan. */
const SAME_TEXT_MS = 2000;
/** The middle is read finely, the whole frame coarsely; a code wants some six pixels a module. */
const MIDDLE_SHARE = 0.75;
const MIDDLE_LONGEST_PX = 720;
const WHOLE_LONGEST_PX = 1280;
/** A photo file is tried at these sizes, since a very large code reads better when it is made smaller. */
const STILL_LONGEST_PX = [2000, 1000, 4000];
const CAMERA = { facingMode: { ideal: 'environment' }, width: { ideal: 1920 }, height: { ideal: 1080 } };

/**
 * @param {{onText: (text: string) => void, onState?: (state: 'starting' | 'looking' | 'stopped') => void}} listeners
 * @returns {import('./types.js').Scanner}
 */
export function createScanner({ onText, onState = () => {} }) {
  let decoder = null;
  let session = null;
  let last = { text: '', at_ms: -Infinity };
  const theDecoder = () => (decoder ??= createDecoder());

  function report(text) {
    const at_ms = performance.now();
    const same = text === last.text && at_ms - last.at_ms < SAME_TEXT_MS;
    last = { text, at_ms };
    if (!same) onText(text);
  }

  async function look(mine) {
    for (let turn = 0; session === mine; turn += 1) {
      const frame = frameOf(mine.video, turn);
      const looked = frame && theDecoder().read(mine.video, frame.area, frame.longest_px, false);
      // A frame that could not be read is followed by the next.
      const text = await Promise.resolve(looked).catch(() => null);
      if (text && session === mine) report(text);
      await rest(FRAME_REST_MS);
    }
  }

  function stop() {
    const ended = session;
    session = null;
    if (!ended) return;
    ended.stream.getTracks().forEach((track) => track.stop());
    ended.video.srcObject = null;
    onState('stopped');
  }

  return {
    prepare: () => theDecoder().ready,
    async start(video) {
      stop();
      onState('starting');
      const mine = { video, stream: await openCamera() };
      session = mine;
      try {
        Object.assign(video, { srcObject: mine.stream, muted: true, playsInline: true });
        await video.play();
        await theDecoder().ready;
      } catch (error) {
        stop();
        throw new CameraError('broken', `The scanner did not start (${error.message}). Type the code instead.`, error);
      }
      if (session !== mine) return;
      onState('looking');
      look(mine);
    },
    stop,
    hasTorch: () => Boolean(session && trackOf(session).getCapabilities?.().torch),
    async torch(on) {
      if (!session) return false;
      return trackOf(session).applyConstraints({ advanced: [{ torch: on }] }).then(() => on, () => false);
    },
    readFile: (file) => readStill(theDecoder(), file),
    close() {
      stop();
      decoder?.close();
      decoder = null;
    },
  };
}

async function openCamera() {
  if (!navigator.mediaDevices?.getUserMedia) {
    throw new CameraError('insecure', 'Browsers give cameras to https pages only. Open that address or type the code.');
  }
  try {
    return await navigator.mediaDevices.getUserMedia({ video: CAMERA, audio: false });
  } catch (error) {
    throw asCameraError(error);
  }
}

/** Two looks of three at the middle, where the tag is held, the third at the whole frame. */
function frameOf(video, turn) {
  const { videoWidth, videoHeight } = video;
  if (!videoWidth || video.paused) return null;
  if (turn % 3 === 2) return frameAround(videoWidth, videoHeight, videoWidth, videoHeight, WHOLE_LONGEST_PX);
  const side = Math.round(Math.min(videoWidth, videoHeight) * MIDDLE_SHARE);
  return frameAround(videoWidth, videoHeight, side, side, MIDDLE_LONGEST_PX);
}

/** An area of that width and height around the middle of the picture. */
function frameAround(videoWidth, videoHeight, width, height, longest_px) {
  const x = Math.round((videoWidth - width) / 2);
  const y = Math.round((videoHeight - height) / 2);
  return { area: { x, y, width, height }, longest_px };
}

async function readStill(decoder, file) {
  const bitmap = await openPicture(file);
  try {
    const { width, height } = bitmap;
    for (const longest_px of STILL_LONGEST_PX) {
      const text = await decoder.read(bitmap, { x: 0, y: 0, width, height }, longest_px, true);
      if (text) return text;
    }
    return null;
  } finally {
    bitmap.close();
  }
}

function trackOf({ stream }) {
  return stream.getVideoTracks()[0];
}

function rest(wait_ms) {
  return new Promise((resolve) => setTimeout(resolve, wait_ms));
}
