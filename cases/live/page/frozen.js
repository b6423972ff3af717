// In place of the socket: the tables that an exported page carries. Strings, turns and controls move; the rest stays.
import { unpacked } from './frames.js';

const UNITS = /** @type {Record<string, number>} */ ({ mm: 1, cm: 10, m: 1000, um: 1e-3, in: 25.4, mil: 0.0254 });
const STRING = /^string\.(\d+)\.(gap|height|fretted_gap|position)$/;
const OTHERS = /^(coil\.turns|load\.(volume|tone)_setting)$/;
const FIXED = 'this page works on the tables that it carries: strings, turns and controls move; for anything else open the case with stringflux live';

/**
 * @param {(message: any) => void} hear
 * @param {(there: boolean) => void} state
 */
export function link(hear, state) {
  /** @type {any} */
  let held = null;
  /** Scenes of texts that were made here. @type {Map<string, any>} */
  const scenes = new Map();

  queueMicrotask(async () => {
    held = unpacked(await /** @type {any} */ (globalThis).stringfluxTables);
    scenes.set(held.text, held.scene);
    state(true);
    hear({ kind: 'opened', text: held.text, name: held.name });
  });

  /** @param {any} message */
  function design(message) {
    try {
      let { text } = message;
      let scene = scenes.get(text);
      if (!scene) throw new Error(FIXED);
      for (const edit of message.edits ?? []) [text, scene] = edited(text, scene, edit);
      scenes.set(text, scene);
      hear({ kind: 'design', design: message.design, text, scene });
    } catch (error) {
      hear({ kind: 'design', design: message.design, says: /** @type {Error} */ (error).message });
    }
  }

  /** @param {any} message */
  function compute(message) {
    const own = message.text === held.text;
    if (own) held.design = message.design;
    for (const topic of message.topics) {
      const each = /** @type {Record<string, any[]>} */ ({ loop: held.loops, sound: held.sounds })[topic];
      const answer = each ? each[message.string - 1] : held.answers[topic];
      if (topic.startsWith('sound') && !(own && answer)) hear({ kind: topic, design: message.design, quality: held.quality, answer: { refused: FIXED } });
      else if (answer) hear({ kind: topic, design: held.design, quality: held.quality, answer });
      else if (topic in held.answers || own) hear({ kind: topic, design: message.design, quality: held.quality, answer: { refused: FIXED } });
    }
    hear({ kind: 'done', design: message.design });
  }

  return {
    /** @param {any} message */
    send(message) {
      if (!held) return false;
      queueMicrotask(() => { if (message.kind === 'design') design(message); else if (message.kind === 'compute') compute(message); });
      return true;
    },
    open: () => held !== null,
  };
}

/** @param {string} text @param {any} scene @param {any} edit @returns {[string, any]} */
function edited(text, scene, edit) {
  const { path, value } = edit;
  const string = STRING.exec(path);
  if ((edit.act ?? 'set') !== 'set' || !(string || OTHERS.test(path))) throw new Error(FIXED);
  const next = structuredClone({ ...scene, shapes: null, tables: scene.tables });
  next.shapes = scene.shapes;
  if (string) place(next, Number(string[1]), path, length(path, value));
  else {
    const amount = Number(value);
    if (!Number.isFinite(amount) || amount < 0) throw new Error(`${path}: received "${value}"; write a number without a unit`);
    if (path === 'coil.turns' && next.coils[0].moves) throw new Error(FIXED); // other turns take other space
    if (path === 'coil.turns') next.coils[0].turns = amount;
    else next.load[path.slice(5)] = Math.min(amount, 1);
  }
  for (const table of next.tables) {
    for (const key of table.keys) if (`${table.path}.${key.key}` === path) key.written = String(value);
  }
  return [written(text, path, string ? JSON.stringify(String(value)) : String(Number(value))), next];
}

/** @param {string} path @param {unknown} value */
function length(path, value) {
  const found = /^\s*([+-]?[\d.]+)(?:\s*\/\s*(\d+))?\s*([a-z]+)\s*$/.exec(String(value));
  const size = found && UNITS[found[3]];
  if (!found || !size) throw new Error(`${path}: received "${value}"; write a length with its unit (mm, cm, m, um, in, mil), for example "4.8 mm"`);
  return Number(found[1]) / Number(found[2] ?? 1) * size;
}

/** @param {any} scene @param {number} number @param {string} path @param {number} to mm */
function place(scene, number, path, to) {
  const drawn = scene.strings[number - 1];
  const handles = scene.handles.filter((/** @type {any} */ h) => h.item === `string.${number}`);
  const own = handles.find((/** @type {any} */ h) => h.path === path);
  if (!own) throw new Error(FIXED);
  const by = (to - own.value) / own.rate;
  for (const h of handles) {
    if (h.path === path) { h.value = to; h.written = `${Number(to.toFixed(3))} mm`; }
    const moves = own.axis === 'v' ? h.at.length && 1 : h.view === 'side' ? -1 : 0;
    if (moves === 1) h.at[1] += by;
    else if (moves === 0) h.at[0] += by;
  }
  if (own.axis === 'v') { drawn.z += by; drawn.gap += by; } else drawn.y += by;
}

/** The text with one value put in, in its own table. @param {string} text @param {string} path @param {string} value */
function written(text, path, value) {
  const steps = path.split('.');
  const key = /** @type {string} */ (steps.pop());
  const lines = text.split('\n');
  const head = steps.length > 1 ? `[[${steps[0]}]]` : `[${steps[0]}]`;
  let count = Number(steps[1] ?? 1);
  let at = lines.findIndex((line) => line.trim().startsWith(head) && --count === 0);
  if (at < 0) { lines.push(head); at = lines.length - 1; }
  let last = at;
  for (let i = at + 1; i < lines.length && !lines[i].trim().startsWith('['); i += 1) {
    if (new RegExp(`^\\s*${key}\\s*=`).test(lines[i])) {
      lines[i] = lines[i].replace(/=\s*("[^"]*"|[^\s#]+)/, `= ${value}`);
      return lines.join('\n');
    }
    if (lines[i].trim() && !lines[i].trim().startsWith('#')) last = i;
  }
  lines.splice(last + 1, 0, `${key} = ${value}`);
  return lines.join('\n');
}
