/** Converts, shows and reads quantities in the units that the grower chose; what is stored is SI (cm, litres, °C). */

/**
 * Each quantity's units, with value shown = SI value * factor + offset, and the decimals that a grower needs.
 * Inch 2.54 cm exactly (NIST SP 811); US liquid gallon 3.785411784 l exactly (NIST SP 811); °F = °C * 9/5 + 32.
 */
export const QUANTITIES = Object.freeze({
  length: {
    cm: { factor: 1, offset: 0, decimals: 1, label: 'cm' },
    in: { factor: 1 / 2.54, offset: 0, decimals: 1, label: 'in' },
  },
  volume: {
    l: { factor: 1, offset: 0, decimals: 1, label: 'l' },
    gal: { factor: 1 / 3.785411784, offset: 0, decimals: 1, label: 'gal' },
  },
  temperature: {
    C: { factor: 1, offset: 0, decimals: 1, label: '°C' },
    F: { factor: 9 / 5, offset: 32, decimals: 0, label: '°F' },
  },
});

/** @typedef {{length: 'cm'|'in', volume: 'l'|'gal', temperature: 'C'|'F'}} Units */
/** @typedef {'length'|'volume'|'temperature'} Quantity */

/** @type {Readonly<Units>} */
export const SI_UNITS = Object.freeze({ length: 'cm', volume: 'l', temperature: 'C' });

/** @type {Readonly<Units>} */
export const US_UNITS = Object.freeze({ length: 'in', volume: 'gal', temperature: 'F' });

const DECIMALS_KEPT = 4;

let decimalSign = '.';

/** The sign between whole and part of a number, as the language that is shown writes it. */
export function setDecimalSign(sign) {
  decimalSign = sign;
}

/**
 * The chosen unit's short label, e.g. `cm`.
 * @param {Quantity} quantity
 * @param {Units} units
 * @returns {string}
 */
export function unitLabel(quantity, units) {
  return unitOf(quantity, units).label;
}

/**
 * An SI value in the chosen unit, not rounded.
 * @param {Quantity} quantity
 * @param {number} value
 * @param {Units} units
 * @returns {number}
 */
export function fromSi(quantity, value, units) {
  const unit = unitOf(quantity, units);
  return value * unit.factor + unit.offset;
}

/**
 * A value in the chosen unit as SI, rounded to four decimals so that 4 in is stored as 10.16 cm.
 * @param {Quantity} quantity
 * @param {number} shown
 * @param {Units} units
 * @returns {number}
 */
export function toSi(quantity, shown, units) {
  const unit = unitOf(quantity, units);
  return Number(((shown - unit.offset) / unit.factor).toFixed(DECIMALS_KEPT));
}

/**
 * An SI value as text in the chosen unit, with its label unless `bare`; nothing recorded gives ''.
 * @param {Quantity} quantity
 * @param {number | null | undefined} value
 * @param {Units} units
 * @param {{bare?: boolean, decimals?: number}} [options]
 * @returns {string}
 */
export function formatQuantity(quantity, value, units, options = {}) {
  if (value === null || value === undefined) return '';
  const unit = unitOf(quantity, units);
  const text = formatNumber(fromSi(quantity, value, units), options.decimals ?? unit.decimals);
  return options.bare ? text : `${text} ${unit.label}`;
}

/**
 * Reads a typed quantity in the chosen unit.
 * @param {Quantity} quantity
 * @param {string} text
 * @param {Units} units
 * @returns {{value: number | null} | {error: 'number'}} SI value; null for an empty text
 */
export function parseQuantity(quantity, text, units) {
  const read = parseNumber(text);
  if ('error' in read || read.value === null) return read;
  return { value: toSi(quantity, read.value, units) };
}

/**
 * A number with at most so many decimals and a true minus sign, without trailing zeros.
 * @param {number} value
 * @param {number} [decimals_max]
 * @returns {string}
 */
export function formatNumber(value, decimals_max = 1) {
  const rounded = Number(value.toFixed(decimals_max));
  return String(Object.is(rounded, -0) ? 0 : rounded).replace('-', '\u2212').replace('.', decimalSign);
}

/**
 * Reads a typed number; a comma may stand for the decimal point, and the true minus sign for the hyphen.
 * @param {string} text
 * @returns {{value: number | null} | {error: 'number'}} null for an empty text
 */
export function parseNumber(text) {
  const plain = text.trim().replace('\u2212', '-').replace(',', '.');
  if (plain === '') return { value: null };
  if (!/^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain)) return { error: 'number' };
  return { value: Number(plain) };
}

function unitOf(quantity, units) {
  const unit = QUANTITIES[quantity]?.[units[quantity]];
  if (!unit) throw new RangeError(`no unit ${units[quantity]} for ${quantity}`);
  return unit;
}
