/** Takes photos, from a file or a video frame, as bytes with their fingerprint; very large ones are made smaller. */

import { CameraError } from './camera_error.js';

/** Longest side that is sent, and the quality of what had to be encoded anew. */
export const PHOTO_LONGEST_PX = 4096;
export const JPEG_QUALITY = 0.9;
/** A file that is larger than this is not read at all: it is no photo of a leaf. */
export const FILE_BYTES_MAX = 100 * 1024 * 1024;
/** What may be sent as it is, up to the size that home takes. */
const SENT_AS_IS = ['image/jpeg', 'image/png', 'image/webp'];
const SENT_BYTES_MAX = 25 * 1024 * 1024;

/**
 * A photo that the grower chose or took with the phone's own camera app.
 * @param {Blob} file
 * @returns {Promise<import('./types.js').TakenPhoto>}
 */
export async function readPhoto(file) {
  if (file.size > FILE_BYTES_MAX) throw new CameraError('broken', 'This file is larger than 100 MB; choose a photo.');
  const bitmap = await openPicture(file);
  try {
    const { width, height } = bitmap;
    const small = Math.max(width, height) <= PHOTO_LONGEST_PX && file.size <= SENT_BYTES_MAX;
    if (!small || !SENT_AS_IS.includes(file.type)) return await encode(bitmap, width, height);
    return { ...(await withFingerprint(await file.arrayBuffer(), file.type)), width_px: width, height_px: height };
  } finally {
    bitmap.close();
  }
}

/**
 * A picture file, upright and decoded; the caller closes it.
 * @param {Blob} file
 * @returns {Promise<ImageBitmap>}
 */
export function openPicture(file) {
  return createImageBitmap(file, { imageOrientation: 'from-image' }).catch((error) => {
    throw new CameraError('broken', 'This file is no picture that the browser can read; choose another.', error);
  });
}

/**
 * The frame that a running video shows now.
 * @param {HTMLVideoElement} video
 * @returns {Promise<import('./types.js').TakenPhoto>}
 */
export async function grabPhoto(video) {
  if (!video.videoWidth) {
    throw new CameraError('broken', 'The camera shows no picture yet; wait a moment and try again.');
  }
  return encode(video, video.videoWidth, video.videoHeight);
}

async function encode(source, width, height) {
  const scale = Math.min(1, PHOTO_LONGEST_PX / Math.max(width, height));
  const width_px = Math.max(1, Math.round(width * scale));
  const height_px = Math.max(1, Math.round(height * scale));
  const canvas = Object.assign(document.createElement('canvas'), { width: width_px, height: height_px });
  canvas.getContext('2d').drawImage(source, 0, 0, width_px, height_px);
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, 'image/jpeg', JPEG_QUALITY));
  // Phones give back the memory of a canvas late unless it is made empty.
  canvas.width = 0;
  if (!blob) throw new CameraError('broken', 'The phone could not keep this photo; close other apps and try again.');
  return { ...(await withFingerprint(await blob.arrayBuffer(), blob.type)), width_px, height_px };
}

async function withFingerprint(bytes, type) {
  const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
  return { bytes, sha256: Array.from(digest, (byte) => byte.toString(16).padStart(2, '0')).join(''), type };
}
