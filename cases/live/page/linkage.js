// λ of a string over its place, from the map that the program sent; and what moves by itself from that:
//
//   λ(y, z) = Σ c_jk T_j(u) T_k(v)        S = f |∂λ/∂z|,   f = a + b x + c x² + d y + e y²,   x = ln |λ/λ₀|
//
// the polynomial of the program (postprocess/plucked/surface.py). f is what the metal's memory makes of the slope: it
// goes with the string's own magnetisation, so with λ. It is put through the program's light swings about the place;
// before they are there, through S and its slope with the gap. Pure functions, in SI.

/** @typedef {import('./frames.js').Numbers} Numbers */
/**
 * @typedef {object} Surface
 * @property {[number, number]} y reach, m
 * @property {[number, number]} z
 * @property {Float64Array} c coefficients, row by row
 * @property {number} ny
 * @property {number} nz
 */
/** @typedef {{linkage: number, y: number, z: number, zz: number}} Slopes */
/** @typedef {{a: number, b: number, c: number, d: number, e: number, at: number}} Factor */

/** Solve A x = b, A given row by row, in place. @param {Float64Array} A @param {Float64Array} b @param {number} n */
function solved(A, b, n) {
  for (let i = 0; i < n; i++) {
    let top = i;
    for (let r = i + 1; r < n; r++) if (Math.abs(A[r * n + i]) > Math.abs(A[top * n + i])) top = r;
    if (top !== i) {
      for (let k = 0; k < n; k++) [A[i * n + k], A[top * n + k]] = [A[top * n + k], A[i * n + k]];
      [b[i], b[top]] = [b[top], b[i]];
    }
    for (let r = i + 1; r < n; r++) {
      const m = A[r * n + i] / A[i * n + i];
      for (let k = i; k < n; k++) A[r * n + k] -= m * A[i * n + k];
      b[r] -= m * b[i];
    }
  }
  for (let i = n - 1; i >= 0; i--) {
    for (let k = i + 1; k < n; k++) b[i] -= A[i * n + k] * b[k];
    b[i] /= A[i * n + i];
  }
  return b;
}

/** @param {ArrayLike<number>} places */
function vandermonde(places) {
  const n = places.length;
  const A = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    const u = (2 * places[i] - places[0] - places[n - 1]) / (places[n - 1] - places[0]);
    for (let k = 0; k < n; k++) A[i * n + k] = k < 2 ? (k ? u : 1) : 2 * u * A[i * n + k - 1] - A[i * n + k - 2];
  }
  return A;
}

/** The polynomial through a map. @param {ArrayLike<number>} y @param {ArrayLike<number>} z @param {ArrayLike<number>} linkage (y, z) row by row @returns {Surface} */
export function surface(y, z, linkage) {
  const [ny, nz] = [y.length, z.length];
  const [Vy, Vz] = [vandermonde(y), vandermonde(z)];
  const c = Float64Array.from(linkage);
  for (let j = 0; j < ny; j++) c.set(solved(Vz.slice(), c.slice(j * nz, (j + 1) * nz), nz), j * nz);
  for (let k = 0; k < nz; k++) {
    const column = solved(Vy.slice(), Float64Array.from({ length: ny }, (_, j) => c[j * nz + k]), ny);
    for (let j = 0; j < ny; j++) c[j * nz + k] = column[j];
  }
  return { y: [y[0], y[ny - 1]], z: [z[0], z[nz - 1]], c, ny, nz };
}

const MOST = 32;
const [T, dT, ddT] = [new Float64Array(MOST), new Float64Array(MOST), new Float64Array(MOST)];
const [rows, dRows, ddRows] = [new Float64Array(MOST), new Float64Array(MOST), new Float64Array(MOST)];

/** T_k, T_k′ and T_k″ at u. @param {number} u @param {number} n */
function chebyshev(u, n) {
  T[0] = 1; dT[0] = 0; ddT[0] = 0; T[1] = u; dT[1] = 1; ddT[1] = 0;
  for (let k = 2; k < n; k++) {
    T[k] = 2 * u * T[k - 1] - T[k - 2];
    dT[k] = 2 * T[k - 1] + 2 * u * dT[k - 1] - dT[k - 2];
    ddT[k] = 4 * dT[k - 1] + 2 * u * ddT[k - 1] - ddT[k - 2];
  }
}

/** λ, Wb, its slopes, V·s/m, and ∂²λ/∂z² at a displacement; `out` is filled and given back. @param {Surface} s @param {number} y @param {number} z @param {Slopes} [out] @returns {Slopes} */
export function at(s, y, z, out = { linkage: 0, y: 0, z: 0, zz: 0 }) {
  const [wy, wz] = [2 / (s.y[1] - s.y[0]), 2 / (s.z[1] - s.z[0])];
  chebyshev((z - s.z[0]) * wz - 1, s.nz);
  for (let j = 0; j < s.ny; j++) {
    let [a, b, d] = [0, 0, 0];
    for (let k = 0; k < s.nz; k++) {
      const c = s.c[j * s.nz + k];
      a += c * T[k]; b += c * dT[k]; d += c * ddT[k];
    }
    rows[j] = a; dRows[j] = b; ddRows[j] = d;
  }
  chebyshev((y - s.y[0]) * wy - 1, s.ny);
  out.linkage = 0; out.y = 0; out.z = 0; out.zz = 0;
  for (let j = 0; j < s.ny; j++) {
    out.linkage += T[j] * rows[j];
    out.y += wy * dT[j] * rows[j];
    out.z += wz * T[j] * dRows[j];
    out.zz += wz * wz * T[j] * ddRows[j];
  }
  return out;
}

/** Whether a displacement lies in the map. @param {Surface} s @param {number} y @param {number} z */
export function holds(s, y, z) {
  const e = 1e-7;
  return y >= s.y[0] - e && y <= s.y[1] + e && z >= s.z[0] - e && z <= s.z[1] + e;
}

/** f from S at rest, V·s/m, and its slope with the gap, dB/m, alone. @param {Surface} s @param {number} S @param {number | null} gapSlope @returns {Factor} */
export function nearRest(s, S, gapSlope) {
  const rest = at(s, 0, 0);
  const a = S / Math.abs(rest.z);
  const growing = (gapSlope ?? 0) * Math.LN10 / 20 - rest.zz / rest.z;
  const b = gapSlope === null ? 0 : a * growing * rest.linkage / rest.z;
  return { a, b: Number.isFinite(b) ? b : 0, c: 0, d: 0, e: 0, at: rest.linkage };
}

/**
 * f through S of light swings: at rest, lower, higher, and to both sides.
 * @param {Surface} s @param {Numbers} places (5, 2) across and up, m @param {ArrayLike<number>} S
 * @returns {Factor}
 */
export function throughSwings(s, places, S) {
  const rest = at(s, 0, 0).linkage;
  const one = { linkage: 0, y: 0, z: 0, zz: 0 };
  const [x, f] = [[0, 0, 0, 0, 0], [0, 0, 0, 0, 0]];
  for (let i = 0; i < 5; i++) {
    at(s, places[2 * i], places[2 * i + 1], one);
    x[i] = Math.log(one.linkage / rest);
    f[i] = S[i] / Math.abs(one.z);
  }
  const found = { a: f[0], b: 0, c: 0, d: 0, e: 0, at: rest };
  if (!x.every(Number.isFinite) || x[2] === 0) return found;
  const high = (f[2] - f[0]) / x[2];
  if (Math.abs(x[1]) > 0.02) {
    const low = (f[1] - f[0]) / x[1];
    found.c = (high - low) / (x[2] - x[1]);
    found.b = low - found.c * x[1];
  } else found.b = high;
  const [left, right] = [3, 4].map((i) => f[i] - found.a - found.b * x[i] - found.c * x[i] * x[i]);
  const aside = places[8];
  found.d = (right - left) / (2 * aside);
  found.e = (right + left) / (2 * aside * aside);
  return found;
}

/** S of a string put at a displacement, V·s/m. @param {Surface} s @param {Factor} f @param {number} y @param {number} z */
export function sensitivity(s, f, y, z) {
  const here = at(s, y, z);
  const x = Math.log(here.linkage / f.at);
  const factor = f.a + (Number.isFinite(x) ? f.b * x + f.c * x * x : 0) + f.d * y + f.e * y * y;
  return Math.abs(here.z) * factor;
}

/**
 * By how much all turns of a pickup are more, or null where they are not in proportion.
 * @param {number[]} now @param {number[]} then
 */
export function turned(now, then) {
  if (now.length !== then.length) return null;
  const ratio = now[0] / then[0];
  return now.every((n, i) => Math.abs(n / then[i] - ratio) < 1e-9 * ratio) ? ratio : null;
}
