/** Reads, checks and shows the six-character code of a tag: five symbols and an ISO 7064 MOD 37,36 check character. */

/** The symbols of the first five characters: I, L, O and U are left out because they are misread. */
export const TAG_SYMBOLS = '0123456789ABCDEFGHJKMNPQRSTVWXYZ';

const CHECK_ALPHABET = '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ';
const BODY_LENGTH = 5;
const TEXT_LENGTH_MAX = 300;

/** @typedef {{code: string, error?: undefined} | {error: 'empty' | 'form' | 'check', code?: undefined}} TagReading */

/**
 * Reads a code that was typed or scanned, bare or at the end of an address.
 * `empty`: nothing was given; `form`: not six characters of a tag; `check`: the last character does not fit the others.
 * The returned code carries the computed check character.
 * @param {string} text
 * @returns {TagReading}
 */
export function readTagCode(text) {
  if (typeof text !== 'string' || text.length > TEXT_LENGTH_MAX) return { error: 'form' };
  const plain = text.slice(text.lastIndexOf('/') + 1).replace(/[\s-]/g, '').toUpperCase();
  if (plain === '') return { error: text.trim() === '' ? 'empty' : 'form' };
  if (plain.length !== BODY_LENGTH + 1) return { error: 'form' };
  const body = foldMisread(plain.slice(0, BODY_LENGTH));
  const check = plain.slice(BODY_LENGTH);
  if ([...body].some((symbol) => !TAG_SYMBOLS.includes(symbol)) || !CHECK_ALPHABET.includes(check)) {
    return { error: 'form' };
  }
  const computed = checkCharacter(body);
  if (check !== computed && foldMisread(check) !== foldMisread(computed)) return { error: 'check' };
  return { code: body + computed };
}

/**
 * The code as a tag prints it for the eye: two groups of three.
 * @param {string} code
 * @returns {string}
 */
export function showTagCode(code) {
  return `${code.slice(0, 3)} ${code.slice(3)}`;
}

/**
 * The check character of a text over 0-9 and A-Z (ISO/IEC 7064, hybrid system MOD 37,36).
 * @param {string} body
 * @returns {string}
 */
export function checkCharacter(body) {
  let product = 36;
  for (const symbol of body) {
    const sum = (product + CHECK_ALPHABET.indexOf(symbol)) % 36 || 36;
    product = (sum * 2) % 37;
  }
  return CHECK_ALPHABET[(37 - product) % 36];
}

/** Replaces the letters that people read as digits: I and L as 1, O as 0. */
function foldMisread(text) {
  return text.replace(/[IL]/g, '1').replace(/O/g, '0');
}
