// Numbers as a person reads them.

/** @param {number | null | undefined} value @param {number} [digits] */
export function number(value, digits = 3) {
  if (value === null || value === undefined || !Number.isFinite(value)) return '–';
  if (value === 0) return '0';
  const power = Math.floor(Math.log10(Math.abs(value)) + 1e-9);
  return value.toFixed(Math.min(Math.max(digits - 1 - power, 0), 9));
}

const STEPS = /** @type {[number, string][]} */ ([[1e6, 'M'], [1e3, 'k'], [1, ''], [1e-3, 'm'], [1e-6, 'µ'], [1e-9, 'n'], [1e-12, 'p']]);

/** With a prefix. @param {number | null | undefined} value @param {string} unit @param {number} [digits] */
export function quantity(value, unit, digits = 3) {
  if (value === null || value === undefined || !Number.isFinite(value)) return '–';
  const size = Math.abs(value);
  const [scale, prefix] = STEPS.find(([s]) => size >= 0.9995 * s) ?? STEPS[STEPS.length - 1];
  return `${number(value / scale, digits)}\u202f${prefix}${unit}`;
}

/** A level with its sign. @param {number | null | undefined} value @param {string} [unit] */
export function signed(value, unit = 'dB') {
  if (value === null || value === undefined || !Number.isFinite(value)) return '–';
  const text = Math.abs(value).toFixed(1);
  return `${Number(text) === 0 ? '' : value < 0 ? '−' : '+'}${text}\u202f${unit}`;
}

/** A length for the case file. @param {number} mm */
export function millimetres(mm) {
  return `${Number(mm.toFixed(3))} mm`;
}
