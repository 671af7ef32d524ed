// The language of the screens: English as it stands in text.js, or another laid over it when the app starts.
import { sayings } from '../core/sayings.js';
import { setDecimalSign } from '../core/units.js';
import { reword } from '../core/vocabularies.js';
import { words } from './text.js';

/** The languages, each by its own name; a further one is one more file like text_de.js, and a line here and in `load`. */
export const LANGUAGES = [{ value: 'en', words: 'English' }, { value: 'de', words: 'Deutsch' }];

let spoken = 'en';

/** What dates and numbers are written in: the phone's own kind of the language that is spoken. */
export function locale() {
  return navigator.language?.startsWith(spoken) ? navigator.language : { en: 'en-GB', de: 'de-DE' }[spoken];
}

/**
 * Speaks a language from here on; words that it lacks stay English. Ask before the first screen is drawn.
 * @param {string} chosen a value of LANGUAGES, or `auto` for the phone's own
 */
export async function speak(chosen) {
  const wanted = chosen === 'auto' ? (navigator.language ?? '').slice(0, 2) : chosen;
  const other = await load(wanted);
  if (!other) return;
  spoken = wanted;
  document.documentElement.lang = wanted;
  layOver(words, other.words);
  layOver(sayings, other.sayings);
  reword(other.choices);
  setDecimalSign(other.decimalSign);
}

async function load(language) {
  return language === 'de' ? import('./text_de.js') : null;
}

function layOver(base, other) {
  for (const [key, value] of Object.entries(other)) {
    if (typeof value === 'object' && !Array.isArray(value)) layOver(base[key] ??= {}, value);
    else base[key] = value;
  }
}
