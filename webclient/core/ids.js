/** Makes and recognises the identifiers of records and changes: random UUIDs in their usual text form. */

const ID_FORM = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;

/**
 * A new random identifier (RFC 9562 version 4), lower case.
 * `randomUUID` exists only on secure pages, so the bytes are drawn here when it is missing.
 * @returns {string}
 */
export function newId() {
  if (typeof crypto.randomUUID === 'function') return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}

/**
 * Whether a value is an identifier in the form that `newId` makes.
 * @param {unknown} value
 * @returns {boolean}
 */
export function isId(value) {
  return typeof value === 'string' && ID_FORM.test(value);
}
