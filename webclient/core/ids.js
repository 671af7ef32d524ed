/** Makes and recognises the identifiers of records and changes: UUIDs in their usual text form. */

const ID_FORM = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;

/**
 * A new identifier (RFC 9562 version 7), lower case: the millisecond it was made in, then 74 random bits.
 * Ids of one round so lie side by side in the indexes here and at home, which have few pages to write anew.
 * @returns {string}
 */
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(10));
  bytes[0] = (bytes[0] & 0x0f) | 0x70;
  bytes[2] = (bytes[2] & 0x3f) | 0x80;
  const random = Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
  const time = Math.max(Date.now(), 0).toString(16).padStart(12, '0');
  return (time + random).replace(/^(.{8})(.{4})(.{4})(.{4})/, '$1-$2-$3-$4-');
}

/**
 * Whether a value is an identifier in the form that `newId` makes.
 * @param {unknown} value
 * @returns {boolean}
 */
export function isId(value) {
  return typeof value === 'string' && ID_FORM.test(value);
}
