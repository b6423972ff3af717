// The page's state: one plain object; whoever draws listens, and every change of the design goes through here.
import { inAddress } from './address.js';
import { link } from './link.js';

/**
 * @typedef {object} Edit
 * @property {'set' | 'unset' | 'remove' | 'copy'} [act]
 * @property {string} path
 * @property {unknown} [value]
 */
/**
 * An answer belongs to the design that it was computed of.
 * @typedef {{design: number, quality: string, answer: any}} Answer
 */
/** @typedef {{name: string, text: string, design: number, answers: Record<string, Answer>}} Pin */

export const FIRST = ['moved', 'estimate']; // a first look: at what was moved, then at all strings
export const TOPICS = ['strings', 'winding', 'maps', 'loop', 'coil', 'fields', 'space', 'hum', 'pull'];
const REST = 450; // ms without a movement after which the normal quality is asked for
const DRAG = 30; // ms between two drafts while a hand moves
const LONG = 3000; // ms after which a draft is no longer waited for

export const state = {
  name: '', text: '', saved: '', design: 0,
  /** @type {any} */ scene: null,
  chosen: 'string.1', string: 1, view: 'along', panel: 'flux', swing: 0.5e-3,
  moving: false, /** The string that was pressed last, without being moved. */ pressed: 0, there: false, says: '',
  /** A reader of a class sees the teacher's design until they change something. */ following: false,
  /** @type {{stage: string, share: number, since: number, from?: number, design: number} | null} */ busy: null,
  /** @type {Record<string, Answer>} */ answers: {},
  /** @type {string[]} */ past: [],
  /** @type {string[]} */ future: [],
  /** @type {Pin[]} */ pins: [],
};

/** @type {Map<string, Set<() => void>>} */
const listeners = new Map();

/**
 * @param {string} what "scene", "answers", "chosen", "state", "says", "pins", "swing", "view" or the name of a topic
 * @param {() => void} draw
 */
export function on(what, draw) {
  for (const one of what.split(' ')) listeners.set(one, (listeners.get(one) ?? new Set()).add(draw));
}

/** @type {Set<string>} */
const changed = new Set();
let framed = false;

/** Draw what changed at the next frame, once. @param {...string} what */
export function touch(...what) {
  what.forEach((w) => changed.add(w));
  if (framed) return;
  framed = true;
  requestAnimationFrame(() => {
    framed = false;
    const now = [...changed];
    changed.clear();
    const draws = new Set(now.flatMap((w) => [...(listeners.get(w) ?? [])]));
    draws.forEach((draw) => draw());
  });
}

let asked = 0;
/** @type {{base: string, edits: Edit[], keep: boolean, then: ((good: boolean) => void) | null} | null} */
let waiting = null;
let inFlight = 0;
let base = '';
/** @type {{base: string, edits: Edit[], keep: boolean, then: ((good: boolean) => void) | null} | null} */
let current = null;
/** @type {number | undefined} */
let resting;
/** @type {number | undefined} */
let trailing;
let drafted = 0; // the design of a draft that was asked for while the hand moves, until it or a first look is there
let owed = false;
let lastAsk = 0;

const wire = link(hear, (there) => {
  state.there = there;
  if (there && current) { const again = current; inFlight = 0; current = null; ask(again); }
  touch('state');
});

/** @param {any} message */
function hear(message) {
  if (message.kind === 'opened') opened(message);
  else if (message.kind === 'design' && state.following) { if (!message.says) taken(message); } else if (message.kind === 'design') answered(message);
  else if (message.kind === 'progress') {
    if (message.design !== state.design) return;
    const anew = !state.busy || message.share < state.busy.share; // the next figure counts from nothing
    state.busy = { stage: message.stage, share: message.share, since: state.busy?.since ?? performance.now(),
      from: anew ? performance.now() : state.busy?.from, design: message.design };
    touch('state');
  } else if (message.kind === 'done') {
    if (message.design === state.design) state.busy = null;
    if (message.design === drafted) { drafted = 0; catchUp(); }
    touch('state', 'done');
  } else if (message.kind === 'cancelled') {
    state.busy = null;
    touch('state', 'ended');
  } else if (message.kind === 'refused' || message.kind === 'failed' || message.kind === 'crashed') {
    state.busy = null;
    drafted = 0;
    say(message.says);
    touch('state', 'ended');
  } else if (message.answer && message.design !== state.design && state.pins.some((p) => p.design === message.design)) {
    for (const p of state.pins) {
      if (p.design === message.design) p.answers[message.kind] = { design: message.design, quality: message.quality, answer: message.answer };
    }
    touch('pins');
  } else if (message.answer) {
    state.answers[message.kind] = { design: message.design, quality: message.quality, answer: message.answer };
    touch('answers', message.kind, 'state');
    if (message.kind === 'moved' && message.design === drafted && !message.answer.refused) { drafted = 0; catchUp(); }
  } else listenTo.get(message.kind)?.(message);
}

/** Messages of further kinds, by kind. @type {Map<string, (message: any) => void>} */
export const listenTo = new Map();

/** @param {any} message */
function opened(message) {
  if (state.text && !state.following) { // after a sleep: the design is ours
    if (message.reader) wire.send({ kind: 'follow', on: false });
    wanted('draft', true);
    return;
  }
  state.name = message.name;
  state.saved = message.text;
  state.following = Boolean(message.reader);
  listenTo.get('opened')?.(message);
  touch('opened');
  if (!state.following) first(message.text);
}

/** What the page begins with: what its address holds, or the file. @param {string} text */
async function first(text) {
  const held = await inAddress();
  if (held === null || !(await replace(held, false))) await replace(text, false);
  touch('began');
}

/** A reader goes on with a copy of their own, or follows again. @param {boolean} on */
export function follow(on) {
  state.following = on;
  if (!on) asked = Math.max(asked, 1e9); // never the number of one of the teacher's designs
  wire.send({ kind: 'follow', on });
  touch('state', 'following');
}

/** Put another text in place of the design. @param {string} text @param {boolean} [keep] in the history */
export function replace(text, keep = true) {
  return new Promise((done) => ask({ base: text, edits: [], keep, then: done }));
}

/** Begin a movement: edits from now on start from the design as it is. */
export function grasp() {
  base = state.text;
  drafted = 0;
  state.moving = true;
}

/** A step of a movement; only the newest counts. @param {Edit[]} edits */
export function move(edits) {
  ask({ base, edits, keep: false, then: null });
}

/** End a movement: one step of the history. */
export function release() {
  if (owed) { owed = false; drafted = 0; lastAsk = -LONG; wanted('draft'); } // the last place was passed over
  state.moving = false;
  if (base !== state.text || inFlight) {
    const from = base;
    const settle = () => { if (from !== state.text) remember(from); };
    if (inFlight || waiting) later = settle; else settle();
  }
  rest();
}
/** @type {(() => void) | null} */
let later = null;

/** Edit at once. @param {...Edit} edits @returns {Promise<boolean>} */
export function edit(...edits) {
  return new Promise((done) => ask({ base: state.text, edits, keep: true, then: done }));
}

/** @param {NonNullable<typeof waiting>} request */
function ask(request) {
  if (state.following) follow(false);
  if (inFlight) {
    waiting?.then?.(false);
    waiting = request;
    return;
  }
  current = request;
  inFlight = ++asked;
  wire.send({ kind: 'design', design: inFlight, text: request.base, edits: request.edits });
}

/** @param {any} message */
function answered(message) {
  if (message.design !== inFlight) return;
  const request = /** @type {NonNullable<typeof current>} */ (current);
  inFlight = 0;
  current = null;
  if (message.says) say(message.says);
  else {
    if (request.keep && message.text !== state.text && state.text) remember(state.text);
    taken(message);
    say('');
    wanted('draft');
  }
  request.then?.(!message.says);
  if (waiting) { const next = waiting; waiting = null; ask(next); } else if (later) { later(); later = null; }
}

/** A design with its drawing is what is shown from now on. @param {any} message */
function taken(message) {
  state.text = message.text;
  state.scene = message.scene;
  state.design = message.design;
  if (!(state.chosen in message.scene.items)) state.chosen = 'string.1';
  state.string = Math.min(state.string, message.scene.strings.length);
  touch('scene', 'state');
}

/** @param {string} before */
function remember(before) {
  state.past.push(before);
  if (state.past.length > 500) state.past.shift();
  state.future.length = 0;
  touch('history');
}

/** @type {Promise<void>} */
let stepping = Promise.resolve();

/** Step back or forth in the history, one step after the other however fast they come. @param {-1 | 1} way */
export function step(way) { stepping = stepping.then(() => stepped(way)); return stepping; }

/** @param {-1 | 1} way */
async function stepped(way) {
  const [from, to] = way < 0 ? [state.past, state.future] : [state.future, state.past];
  const text = from.pop();
  if (text === undefined) return;
  to.push(state.text);
  await replace(text, false);
  touch('history');
}

/** Ask for the figures of the design; those of a build once the hand rests. @param {string} quality @param {boolean} [rested] */
function wanted(quality, rested = false) {
  const now = performance.now();
  const running = state.moving && drafted !== 0 && now - lastAsk < LONG; // a hand that goes on must not end every draft
  if (running || state.moving && now - lastAsk < DRAG || !rested && !isQuick()) {
    owed = isQuick();
    clearTimeout(trailing);
    if (owed) trailing = window.setTimeout(catchUp, running ? LONG : DRAG);
    rest();
    return;
  }
  drafted = state.moving ? state.design : 0;
  lastAsk = now;
  const topics = [...(quality === 'draft' ? FIRST : []), ...(state.moving ? ['strings', 'maps', 'winding'] : TOPICS)];
  wire.send({ kind: 'compute', design: state.design, text: state.text, edits: [], quality, topics,
    string: state.string, swing: state.swing });
  state.busy = { stage: '', share: 0, since: now, design: state.design };
  rest();
}

/** What was left out while a hand moved, if it still moves. */
function catchUp() {
  if (owed && state.moving) { owed = false; wanted('draft'); }
}

/** Whether a design is computed while a hand moves: a row is, a build in 3-D waits for the hand to rest. */
export function isQuick() { return (state.answers.strings?.answer.solver ?? 'row') === 'row'; }

function rest() {
  clearTimeout(resting);
  if (state.moving || state.following) return;
  const design = state.design;
  resting = window.setTimeout(() => {
    if (design !== state.design || state.moving) return;
    const quick = isQuick();
    const known = state.answers.pull;
    if (known && known.design === design && (known.quality === 'normal' || !quick)) return;
    if (stopped === design) return; // the person has cancelled it
    if (state.busy?.design === design) rest(); else wanted(quick ? 'normal' : 'draft', true);
  }, REST);
}

/** Ask for what is not yet known of a pinned design. @param {Pin} pin @param {string[]} topics */
export function complete(pin, topics) {
  wire.send({ kind: 'compute', design: pin.design, text: pin.text, quality: 'normal', topics, string: state.string, swing: state.swing });
}

/** Ask for something that is written of the design: a topic of its own. @param {string} topic */
export function order(topic) {
  clearTimeout(resting);
  wire.send({ kind: 'compute', design: state.design, text: state.text, name: state.name, quality: 'normal', topics: [topic],
    string: state.string, swing: state.swing });
  state.busy = { stage: 'writing', share: 0, since: performance.now(), design: state.design };
  touch('state');
}

/** Whether an edit is not answered yet. */
export function pending() { return Boolean(inFlight || waiting); }

/** Compute the design once more in the normal quality, for builds that only draft by themselves. */
export function normal() { stopped = 0; wanted('normal', true); }

/** Compute it after all. */
export function again() { stopped = 0; wanted('draft', true); touch('state'); }

/** Whether the person has ended the computing of this design. */
export function isStopped() { return stopped === state.design; }

/** The design whose computing the person has ended. */
let stopped = 0;

/** End what is computed; the figures stay those of what was computed last. */
export function cancel() {
  stopped = state.design;
  wire.send({ kind: 'cancel' });
  touch('state');
}

/** The newest first look at the strings, where it is of the design that is shown and their figures are not. @returns {any[] | null} */
export function firstLook() {
  if (fresh('strings')) return null;
  const found = [...FIRST].reverse().map((topic) => state.answers[topic]).find((a) => a?.design === state.design && !a.answer.refused);
  return found?.answer.strings ?? null;
}

/** Whether an answer is of the design that is shown. @param {string} topic */
export function fresh(topic) { return state.answers[topic]?.design === state.design; }

/** @param {string} words */
export function say(words) { if (words !== state.says) { state.says = words; touch('says'); } }

/** @param {string} item */
export function choose(item) {
  state.chosen = item;
  const match = /^string\.(\d+)$/.exec(item);
  if (match) pick(Number(match[1]));
  touch('chosen', 'scene');
}

/** The string whose flux is shown. @param {number} number */
export function pick(number) {
  if (number === state.string) return;
  state.string = number;
  touch('string', 'maps');
  if (state.following) return;
  send({ kind: 'compute', design: state.design, text: state.text, edits: [], quality: state.answers.strings?.quality ?? 'draft',
    topics: ['loop', 'fields'], string: number, swing: state.swing });
}

/** @param {object} message */
export function send(message) { return wire.send(message); }
