// What controls, cable and amplifier make of the coil's voltage (postprocess/coil/controls.py has the figure):
//
//   V/E = 1/(1 + Z_s Y) · 1/(1 + R_v (1 − x) Y_w)
//
// Z_s and the winding's own admittance come from the program over frequency. Pure functions, in SI; one complex number
// is [real, imaginary].

/**
 * @typedef {object} Load what a case says of it
 * @property {string} controls
 * @property {number} volume
 * @property {number} volume_setting
 * @property {string} volume_taper
 * @property {number} tone
 * @property {number} tone_setting
 * @property {string} tone_taper
 * @property {number} tone_capacitor
 * @property {number} cable_length
 * @property {number} cable_capacitance
 * @property {number} input_resistance
 * @property {number} input_capacitance
 */
/** @typedef {{volume: number, volumeShare: number, tone: number, toneShare: number, capacitor: number, capacitance: number, resistance: number}} Network */
/** @typedef {[number, number]} Complex */

/** Share of a control under its wiper at a rotation 0 … 1. @param {number} setting @param {string} taper */
export function taper(setting, taper) { return taper === 'linear' ? setting : (81 ** setting - 1) / 80; }

/** The rotation that has a share under the wiper. @param {number} share @param {string} taper */
export function setting(share, taper) { return taper === 'linear' ? share : Math.log(80 * share + 1) / Math.log(81); }

/** @param {Load} load @returns {Network} */
export function network(load) {
  return {
    volume: load.controls === 'none' ? Infinity : load.volume, volumeShare: taper(load.volume_setting, load.volume_taper),
    tone: load.controls === 'volume and tone' ? load.tone : Infinity, toneShare: taper(load.tone_setting, load.tone_taper),
    capacitor: load.tone_capacitor, capacitance: load.cable_length * load.cable_capacitance + load.input_capacitance,
    resistance: load.input_resistance,
  };
}

/** @param {Complex} a @param {Complex} b @returns {Complex} */
const times = (a, b) => [a[0] * b[0] - a[1] * b[1], a[0] * b[1] + a[1] * b[0]];
/** @param {Complex} a @param {Complex} b @returns {Complex} */
const over = (a, b) => { const d = b[0] * b[0] + b[1] * b[1]; return [(a[0] * b[0] + a[1] * b[1]) / d, (a[1] * b[0] - a[0] * b[1]) / d]; };

/**
 * V/E at one frequency.
 * @param {Network} n @param {number} f Hz @param {Complex} series Z_s, Ω @param {Complex} shunt the winding's own, S
 * @returns {Complex}
 */
export function response(n, f, series, shunt) {
  const w = 2 * Math.PI * f;
  const controlled = Number.isFinite(n.volume);
  if (controlled && n.volumeShare === 0) return [0, 0];
  const above = controlled ? n.volume * (1 - n.volumeShare) : 0;
  /** @type {Complex} */
  const wiper = [1 / n.resistance + (controlled ? 1 / (n.volume * n.volumeShare) : 0), w * n.capacitance];
  /** @type {Complex} */
  const divided = [1 + above * wiper[0], above * wiper[1]];
  const y = over(wiper, divided);
  if (Number.isFinite(n.tone)) {
    const tone = over([0, w * n.capacitor], [1, w * n.capacitor * n.tone * n.toneShare]);
    y[0] += tone[0]; y[1] += tone[1];
  }
  y[0] += shunt[0]; y[1] += shunt[1];
  const whole = times(series, y);
  return over([1, 0], times([1 + whole[0], whole[1]], divided));
}

/**
 * @typedef {object} Source the coil as the program sent it
 * @property {ArrayLike<number>} frequency Hz (n,)
 * @property {ArrayLike<number>} series Ω, real parts and then imaginary ones (2n,)
 * @property {ArrayLike<number>} shunt S, alike
 * @property {number} resistance Ω at 0 Hz
 */

/** Level of V/E, dB, over the frequencies. @param {Network} n @param {Source} s @param {Float64Array} [out] */
export function levels(n, s, out = new Float64Array(s.frequency.length)) {
  const k = s.frequency.length;
  for (let i = 0; i < k; i++) {
    const v = response(n, s.frequency[i], [s.series[i], s.series[k + i]], [s.shunt[i], s.shunt[k + i]]);
    out[i] = 20 * Math.log10(Math.hypot(v[0], v[1]));
  }
  return out;
}

const A_PEAK = 0.05; // dB over the level at low frequencies; less is none

/**
 * What a response is known by: level at 0 Hz, dB; its peak, Hz and dB over that; where it has fallen 3 dB, Hz.
 * @param {Network} n @param {Source} s
 */
export function known(n, s) {
  const low = response(n, 0, [s.resistance, 0], [0, 0]);
  const level = 20 * Math.log10(Math.hypot(low[0], low[1]));
  /** @type {{level: number, resonance: number | null, peak: number | null, corner: number | null}} */
  const found = { level, resonance: null, peak: null, corner: null };
  if (!Number.isFinite(level)) return found;
  const dB = levels(n, s);
  let top = 0;
  dB.forEach((v, i) => { if (v > dB[top]) top = i; });
  if (top > 0 && top < dB.length - 1) { // a parabola through the highest three, over log f
    const [a, b, c] = [dB[top - 1], dB[top], dB[top + 1]];
    const by = (a - c) / (2 * (a - 2 * b + c));
    const height = b - (a - c) * by / 4;
    if (height - level > A_PEAK) {
      found.resonance = s.frequency[top] * (s.frequency[top + 1] / s.frequency[top]) ** by;
      found.peak = height - level;
    }
  }
  const fallen = level - 10 * Math.log10(2);
  const first = dB.findIndex((v) => v < fallen);
  if (first > 0) {
    const share = (dB[first - 1] - fallen) / (dB[first - 1] - dB[first]);
    found.corner = s.frequency[first - 1] * (s.frequency[first] / s.frequency[first - 1]) ** share;
  }
  return found;
}

/**
 * The coil with n times as many turns of the same wire in the same window, and c times its capacitance.
 * @param {Source} s @param {number} n @param {number} [c] @returns {Source}
 */
export function wound(s, n, c = 1) {
  if (n === 1 && c === 1) return s;
  const k = s.frequency.length;
  const [series, shunt] = [new Float64Array(2 * k), Float64Array.from(s.shunt, (v) => c * v)];
  for (let i = 0; i < k; i++) {
    series[i] = n * s.resistance + n * n * (s.series[i] - s.resistance);
    series[k + i] = n * n * s.series[k + i];
  }
  return { frequency: s.frequency, series, shunt, resistance: n * s.resistance };
}
