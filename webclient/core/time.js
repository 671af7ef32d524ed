/** Times as RFC 3339 text with the phone's offset, days as ISO 8601 text, and ages as data that a screen can word. */

const TIME_FORM = /^(\d{4}-\d{2}-\d{2})T(\d{2}):(\d{2}):(\d{2})(\.\d{1,9})?(Z|[+-]\d{2}:\d{2})$/;
const DATE_FORM = /^\d{4}-\d{2}-\d{2}$/;
/** Earlier days are slips of the thumb. */
const DATE_FIRST = '1900-01-01';
const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

/**
 * A moment as RFC 3339 text with the local offset, to the second, e.g. `2025-05-03T09:14:00+02:00`.
 * @param {number} [at_ms] milliseconds since 1970
 * @param {number} [offset_min] minutes east of UTC; default the phone's own at that moment
 * @returns {string}
 */
export function timeText(at_ms = Date.now(), offset_min = -new Date(at_ms).getTimezoneOffset()) {
  const shifted = new Date(at_ms + offset_min * MINUTE_MS).toISOString().slice(0, 19);
  const size = Math.abs(offset_min);
  const offset = `${twoDigits(Math.floor(size / 60))}:${twoDigits(size % 60)}`;
  return `${shifted}${offset_min < 0 ? '-' : '+'}${offset}`;
}

/**
 * The moment that an RFC 3339 text with offset names.
 * @param {unknown} text
 * @returns {number | null} milliseconds since 1970; null when the text is no such time
 */
export function timeMs(text) {
  const parts = typeof text === 'string' ? TIME_FORM.exec(text) : null;
  if (!parts || !isDate(parts[1])) return null;
  const [hours, minutes, seconds] = parts.slice(2, 5).map(Number);
  if (hours > 23 || minutes > 59 || seconds > 59) return null;
  const at_ms = Date.parse(text);
  return Number.isNaN(at_ms) ? null : at_ms;
}

/**
 * The day of a moment in the phone's own zone, as ISO 8601 text.
 * @param {number} [at_ms]
 * @returns {string}
 */
export function dateText(at_ms = Date.now()) {
  return timeText(at_ms).slice(0, 10);
}

/**
 * Whether a value is a day that exists, as ISO 8601 text.
 * @param {unknown} text
 * @returns {boolean}
 */
export function isDate(text) {
  if (typeof text !== 'string' || !DATE_FORM.test(text)) return false;
  const at = new Date(`${text}T00:00:00Z`);
  return text >= DATE_FIRST && !Number.isNaN(at.getTime()) && at.toISOString().startsWith(text);
}

/**
 * The day so many days after another.
 * @param {string} date
 * @param {number} days may be negative
 * @returns {string}
 */
export function addDays(date, days) {
  return new Date(Date.parse(`${date}T00:00:00Z`) + days * DAY_MS).toISOString().slice(0, 10);
}

/**
 * Whole days from one day to another; negative when `to` comes first.
 * @param {string} from
 * @param {string} to
 * @returns {number}
 */
export function daysBetween(from, to) {
  return Math.round((Date.parse(`${to}T00:00:00Z`) - Date.parse(`${from}T00:00:00Z`)) / DAY_MS);
}

/** @typedef {{unit: 'now' | 'minute' | 'hour' | 'day' | 'week' | 'month' | 'year', count: number}} Age */

/** The largest unit that is full is the one that is told; a month is 30 days, a year 365. */
const AGE_STEPS = [
  ['year', 365 * DAY_MS],
  ['month', 30 * DAY_MS],
  ['week', 7 * DAY_MS],
  ['day', DAY_MS],
  ['hour', 60 * MINUTE_MS],
  ['minute', MINUTE_MS],
];

/**
 * How long ago a moment was, as a unit and a whole count; a moment less than a minute ago, or ahead, is `now`.
 * Weeks begin at 14 days and months at 60, because "9 days" tells more than "1 week".
 * @param {number} at_ms
 * @param {number} [now_ms]
 * @returns {Age}
 */
export function ageOf(at_ms, now_ms = Date.now()) {
  const age_ms = now_ms - at_ms;
  for (const [unit, unit_ms] of AGE_STEPS) {
    const count = Math.floor(age_ms / unit_ms);
    if (count >= (unit === 'week' || unit === 'month' ? 2 : 1)) return { unit, count };
  }
  return { unit: 'now', count: 0 };
}

function twoDigits(number) {
  return String(number).padStart(2, '0');
}
