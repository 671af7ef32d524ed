/** The one error of cameras, with its kind as a word that a screen can act on. */

/**
 * `kind`: insecure (the page is not on https, so browsers give no camera), missing (no camera), denied (the grower or
 * the phone said no), taken (another app holds it), broken (anything else; the message says what).
 */
export class CameraError extends Error {
  /**
   * @param {'insecure' | 'missing' | 'denied' | 'taken' | 'broken'} kind
   * @param {string} message what happened and what to do
   * @param {unknown} [cause]
   */
  constructor(kind, message, cause) {
    super(message, { cause });
    this.name = 'CameraError';
    this.kind = kind;
  }
}

const NOT_ALLOWED = 'The camera is not allowed here. Allow it in the settings of the browser, or type the code.';
const BY_NAME = {
  NotAllowedError: ['denied', NOT_ALLOWED],
  SecurityError: ['denied', NOT_ALLOWED],
  NotFoundError: ['missing', 'This device has no camera. Type the code instead.'],
  OverconstrainedError: ['missing', 'This device has no camera that fits. Type the code instead.'],
  NotReadableError: ['taken', 'Another app uses the camera. Close that app and try again, or type the code.'],
  AbortError: ['taken', 'The camera did not start. Close other apps that use it and try again, or type the code.'],
};

/** What `getUserMedia` rejected with, as a CameraError. */
export function asCameraError(error) {
  const [kind, message] = BY_NAME[error?.name]
    ?? ['broken', `The camera did not start (${error?.message}). Type the code instead.`];
  return new CameraError(kind, message, error);
}
