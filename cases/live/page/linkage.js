// λ of a string over its place, from the map that the program sent; and what moves by itself from that:
//
//   λ(y, z) = Σ c_jk T_j(u) T_k(v)        S(y, z) = S(0, z) |∂λ/∂z(y, z) / ∂λ/∂z(0, z)| (1 + d y + e y²)
//
// the polynomial of the program (postprocess/plucked/surface.py). log S(0, z) is the polynomial through the program's
// light swings over one another: the metal's memory is in them, and what a map of a few places leaves out of a slope is
// not. Before they are there S = |∂λ/∂z| (a + b x), x = ln |λ/λ₀|, goes through S and its slope with the gap, for the
// memory goes with the string's own magnetisation. Pure functions, in SI.

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
/**
 * @typedef {object} Factor
 * @property {(z: number) => number} up S, V·s/m, of a string at (0, z) m
 * @property {number} low down to where that holds, m
 * @property {number} high
 * @property {number} d beside, by which ∂λ/∂z at (y, z) over that at (0, z) is multiplied: 1 + d y + e y²
 * @property {number} e
 */

const NEAR = 0.02e-3; // m: two swings at one place

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

/** From S at rest, V·s/m, and its slope with the gap, dB/m, alone. @param {Surface} s @param {number} S @param {number | null} gapSlope @returns {Factor} */
export function nearRest(s, S, gapSlope) {
  const rest = at(s, 0, 0);
  const a = S / Math.abs(rest.z);
  const growing = (gapSlope ?? 0) * Math.LN10 / 20 - rest.zz / rest.z;
  const b = gapSlope === null ? 0 : a * growing * rest.linkage / rest.z;
  const up = (/** @type {number} */ z) => {
    const here = at(s, 0, z);
    const x = Math.log(here.linkage / rest.linkage);
    return Math.abs(here.z) * (a + (Number.isFinite(b * x) ? b * x : 0));
  };
  return { up, low: s.z[0], high: s.z[1], d: 0, e: 0 };
}

/**
 * Through S of light swings: log S runs over z as the polynomial through those above one another, first of them at rest.
 * @param {Surface} s @param {Numbers} places (n, 2) across and up, m @param {ArrayLike<number>} S
 * @returns {Factor}
 */
export function throughSwings(s, places, S) {
  /** @type {number[]} */
  const z = [];
  /** @type {number[]} */
  const c = []; // divided differences
  for (let i = 0; i < S.length; i++) {
    const here = places[2 * i + 1];
    if (places[2 * i] !== 0 || z.some((other) => Math.abs(other - here) < NEAR)) continue;
    let value = Math.log(S[i]);
    for (let k = 0; k < z.length; k++) value = (value - c[k]) / (here - z[k]);
    z.push(here);
    c.push(value);
  }
  const up = (/** @type {number} */ v) => Math.exp(c.reduceRight((sum, one, k) => one + (v - z[k]) * sum, 0));
  const rest = Math.abs(at(s, 0, 0).z);
  const [left, right] = [-1, 1].map((way) => {
    const i = Array.from(S).findIndex((_, k) => way * places[2 * k] > 0);
    return { y: places[2 * i], f: S[i] / S[0] * rest / Math.abs(at(s, places[2 * i], places[2 * i + 1]).z) - 1 };
  });
  const e = (right.f / right.y - left.f / left.y) / (right.y - left.y);
  return { up, low: Math.min(...z), high: Math.max(...z), d: right.f / right.y - e * right.y, e };
}

/** S of a string put at a displacement, V·s/m. @param {Surface} s @param {Factor} f @param {number} y @param {number} z */
export function sensitivity(s, f, y, z) {
  const known = Math.min(Math.max(z, f.low), f.high); // further on as the map's slope
  return f.up(known) * Math.abs(at(s, y, z).z / at(s, 0, known).z) * (1 + f.d * y + f.e * y * y);
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
