// A string as it is now: what the program said of it, moved by what the page can move by itself.
import { at, holds, nearRest, sensitivity, surface, throughSwings, turned } from './linkage.js';
import { fresh, state } from './store.js';

/** @typedef {import('./linkage.js').Surface} Surface */
/**
 * @typedef {object} Now
 * @property {Surface} surface about the place that the program has it in
 * @property {number} y from that place, m
 * @property {number} z
 * @property {number} by turns over those of the answer
 * @property {boolean} about estimated by the page; else of the program
 * @property {boolean} known whether it is of the design that is shown at all
 * @property {number} sensitivity V·s/m
 * @property {number} linkage Wb
 */

/** @type {WeakMap<object, Surface>} */
const surfaces = new WeakMap();

/** The map of a string of an answer, made once. @param {any} map @returns {Surface} */
export function surfaceOf(map) {
  const found = surfaces.get(map) ?? surface(map.y, map.z, map.linkage);
  surfaces.set(map, found);
  return found;
}

/** String i, from 0, as it is drawn; null where nothing is known of it. @param {number} i @returns {Now | null} */
export function stringNow(i) {
  const maps = state.answers.maps?.answer;
  const [map, drawn] = [maps?.strings?.[i], state.scene?.strings?.[i]];
  if (!map || !drawn || !map.linkage.length) return null;
  const s = surfaceOf(map);
  const same = maps.unmoved === state.scene.unmoved;
  const by = same ? turned(state.scene.coils.map((/** @type {any} */ c) => c.turns), maps.turns) : 1;
  const y = same ? drawn.y / 1e3 - map.place[0] : 0;
  const z = same ? drawn.z / 1e3 - map.place[1] : 0;
  const known = same && by !== null && holds(s, y, z);
  if (!known) return { surface: s, y: 0, z: 0, by: 1, about: true, known: false, sensitivity: map.sensitivity, linkage: at(s, 0, 0).linkage };
  const loop = state.answers.loop;
  const swings = loop && loop.design === state.answers.maps.design && loop.answer.string === i + 1 ? loop.answer : null;
  const f = swings ? throughSwings(s, swings.places, swings.sensitivity) : nearRest(s, map.sensitivity, map.gap_slope);
  const about = !fresh('maps');
  return { surface: s, y, z, by, about, known, sensitivity: about ? by * sensitivity(s, f, y, z) : map.sensitivity, linkage: by * at(s, y, z).linkage };
}
