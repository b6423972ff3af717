// A string that swings up and down: λ and e round the loop of its metal's memory, on one clock.
//
//   λ(θ) = Λ(A sin θ) + Σ a_n cos nθ + b_n sin nθ,   n = 0 … 3        e = −ω dλ/dθ
//
// Λ is the curve of the map; the sum is what the program's loops have over it at a few amplitudes. Between them
// a_n/A and b_n/A run straight over log A, under the least they stay, and a_0 too.
import { at } from './linkage.js';

/** @typedef {import('./linkage.js').Surface} Surface */
/** @typedef {{amplitude: number, linkage: ArrayLike<number>}} Loop */

export const SAMPLES = 256;

/** What a loop has over the curve: a_0 … a_3, b_0 … b_3, Wb. @param {Surface} s @param {Loop} loop */
function over(s, loop) {
  const n = loop.linkage.length;
  const out = new Float64Array(8);
  for (let k = 0; k < n; k++) {
    const angle = 2 * Math.PI * (k + 1) / n;
    const d = loop.linkage[k] - at(s, 0, loop.amplitude * Math.sin(angle)).linkage;
    for (let m = 0; m < 4; m++) {
      out[m] += (m ? 2 : 1) * d * Math.cos(m * angle) / n;
      out[4 + m] += 2 * d * Math.sin(m * angle) / n;
    }
  }
  return out;
}

/** @param {Surface} s @param {Loop[]} loops by amplitude, rising @param {number} amplitude m */
export function memoryAt(s, loops, amplitude) {
  const out = new Float64Array(8);
  if (!loops.length) return out;
  const each = loops.map((loop) => over(s, loop));
  let j = loops.findIndex((loop) => loop.amplitude >= amplitude);
  if (j < 0) j = loops.length - 1;
  const i = Math.max(j - 1, 0);
  const [low, high] = [loops[i].amplitude, loops[j].amplitude];
  const share = i === j ? 0 : Math.min(Math.log(Math.max(amplitude, low) / low) / Math.log(high / low), 1);
  for (let m = 0; m < 8; m++) {
    if (m === 0) out[0] = each[i][0] + share * (each[j][0] - each[i][0]);
    else out[m] = amplitude * ((1 - share) * each[i][m] / low + share * each[j][m] / high);
  }
  return out;
}

/**
 * λ, Wb, and −dλ/dθ, Wb, over one time round, (SAMPLES,) each.
 * @param {Surface} s @param {Loop[]} loops @param {number} amplitude m
 * @param {{y: number, z: number, by: number}} from where the string lies in the map, and turns
 * @param {Float64Array} linkage @param {Float64Array} falling both are filled
 */
export function round(s, loops, amplitude, from, linkage, falling) {
  const memory = memoryAt(s, loops, amplitude);
  const one = { linkage: 0, y: 0, z: 0, zz: 0 };
  for (let k = 0; k < SAMPLES; k++) {
    const angle = 2 * Math.PI * k / SAMPLES;
    const moved = amplitude * Math.sin(angle);
    at(s, from.y, Math.min(Math.max(from.z + moved, s.z[0]), s.z[1]), one);
    let [value, slope] = [one.linkage, one.z * amplitude * Math.cos(angle)];
    for (let m = 0; m < 4; m++) {
      const [c, d] = [Math.cos(m * angle), Math.sin(m * angle)];
      value += memory[m] * c + memory[4 + m] * d;
      slope += m * (memory[4 + m] * c - memory[m] * d);
    }
    linkage[k] = from.by * value;
    falling[k] = -from.by * slope;
  }
}

/** The first harmonic of e over its velocity: S, V·s/m. @param {Float64Array} linkage @param {number} amplitude */
export function heard(linkage, amplitude) {
  let [a, b] = [0, 0];
  for (let k = 0; k < SAMPLES; k++) {
    const angle = 2 * Math.PI * k / SAMPLES;
    a += linkage[k] * Math.cos(angle); b += linkage[k] * Math.sin(angle);
  }
  return 2 * Math.hypot(a, b) / (SAMPLES * amplitude);
}

/** The clock that all of it runs by. */
export const clock = { running: false, phase: 0, slow: 0.5, amplitude: 0, string: 0 };

/** Of the string that swings: its number from 1, 0 for none, and how far up it is, mm. */
export function swinging() {
  return { string: clock.string, up: clock.string ? 1e3 * clock.amplitude * Math.sin(clock.phase) : 0 };
}
