// Dates, ages and quantities as the screens write them.
import { ageOf, timeMs } from '../core/time.js';
import { locale } from './language.js';
import { words } from './text.js';

const DAY_MS = 86_400_000;

const formats = new Map();

function format(name, options) {
  if (!formats.has(name)) formats.set(name, new Intl.DateTimeFormat(locale(), options));
  return formats.get(name);
}

/** `3 May`; with the year when that is not the present one. A month cut short ends without a dot, as many sentences end in a day. */
export function shortDay(at) {
  const day = new Date(at);
  const thisYear = day.getFullYear() === new Date().getFullYear();
  return thisYear
    ? format('day', { day: 'numeric', month: 'short' }).format(day).replace(/\.$/, '')
    : format('dayYear', { day: 'numeric', month: 'short', year: 'numeric' }).format(day);
}

/** `3 May, 09:14` */
export function dayAndTime(at) {
  return `${shortDay(at)}, ${format('clock', { hour: '2-digit', minute: '2-digit' }).format(new Date(at))}`;
}

/** The middle of an ISO date's day on this phone, in ms. */
export function noonOf(date) {
  return new Date(`${date}T12:00:00`).getTime();
}

/** The day of an ISO date or RFC 3339 time, in words; '' when there is none. */
export function dayOf(text) {
  if (!text) return '';
  const at = text.length === 10 ? noonOf(text) : timeMs(text);
  return at === null || Number.isNaN(at) ? text : shortDay(at);
}

/** `2 h`, `3 days`; `just now` below a minute. */
export function ageWords(at, now = Date.now()) {
  const age = ageOf(at, now);
  return words.age[age.unit](age.count);
}

/** Whole days since a moment. */
export function daysSince(at, now = Date.now()) {
  return Math.floor((now - at) / DAY_MS);
}
