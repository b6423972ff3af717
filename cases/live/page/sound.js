// Strings plucked, as they are heard: the program's own samples, all with one gain; the string that is pressed is
// computed first, then the others.
import { make } from './dom.js';
import { on, say, send, state } from './store.js';

const LONGEST = 2.5; // s
const FADE = 0.05; // s, or the end would click
const PEAK = 0.5; // of full scale, the loudest string as its level foretells it

/** @type {AudioContext | null} */
let context = null;
/** @type {Set<AudioBufferSourceNode>} */
const ringing = new Set();
/** What is computed of the design that is shown, string by string: first the one that was pressed. */
let [of, voices] = [-1, /** @type {Record<string, Map<number, any>>} */ ({})];
let gain = 0; // one for all strings
let waiting = 0; // the string that is to be heard once it is computed
let asked = 0; // the string that is being computed for it
let loaded = true;
/** @type {any} */ let stopper;

/** @param {HTMLElement} place */
export function sound(place) {
  const pluckIt = make('button', { type: 'button', id: 'pluck', title: 'also P, and 1 to 9 for the strings; from then on a press on a string in the drawing, too', 'aria-keyshortcuts': 'P', onclick: () => pluck(state.string) }, 'Pluck');
  stopper = make('button', { type: 'button', id: 'silence', disabled: true, onclick: silence }, 'Silence');
  const through = make('input', { type: 'checkbox', id: 'loaded', checked: true, onchange: () => { loaded = through.checked; gain = 0; } });
  place.append(make('p', { className: 'bar swing' }, pluckIt, stopper, make('label', { for: 'loaded', className: 'short' }, through, 'through controls and cable')));
  addEventListener('keydown', (event) => {
    const target = /** @type {HTMLElement} */ (event.target);
    if (event.ctrlKey || event.metaKey || event.altKey || event.repeat || target.closest('input, select, textarea')) return;
    const string = event.key.toLowerCase() === 'p' ? state.string : /^[1-9]$/.test(event.key) ? Number(event.key) : 0;
    if (string && string <= state.scene?.strings.length) { event.preventDefault(); pluck(string); }
  });
  on('pressed', () => { if (context && state.pressed) pluck(state.pressed); state.pressed = 0; }); // once sound was asked for
  on('sound sound_open', heard);
  on('scene', () => { if (of !== state.design) { waiting = 0; [of, voices, gain] = [state.design, {}, 0]; } });
  on('done', () => { asked = 0; ask(); }); // of something else: it took the place of our question
  on('ended', () => { waiting = 0; asked = 0; });
  on('state', ask);
}

/** @returns {Map<number, any>} */
function known() { return voices[loaded ? 'sound' : 'sound_open'] ??= new Map(); }

function heard() {
  for (const topic of ['sound', 'sound_open']) {
    const found = state.answers[topic];
    if (found?.design === state.design) (voices[topic] ??= new Map()).set(found.answer.string ?? asked, found.answer);
  }
  if (!waiting || !known().has(waiting)) return;
  const string = waiting;
  waiting = 0;
  say('');
  play(string);
}

/** Hear a string, now or when it is computed. @param {number} string from 1 */
export function pluck(string) {
  context ??= new AudioContext();
  context.resume();
  if (known().has(string)) { play(string); return; }
  waiting = string;
  say(`string ${string} is not yet computed as it is heard; it sounds as soon as it is`);
  ask();
}

/** The string that was pressed, then the others; only when nothing else is computed: a question of ours would take its place. */
function ask() {
  if (state.busy || state.moving || asked) return;
  const next = known().size ? state.scene.strings.map((/** @type {any} */ s) => s.number).find((/** @type {number} */ n) => !known().has(n)) : 0;
  const string = waiting && !known().has(waiting) ? waiting : next;
  if (!string) return;
  if (send({ kind: 'compute', design: state.design, text: state.text, quality: state.answers.strings?.quality ?? 'draft',
    topics: [loaded ? 'sound' : 'sound_open'], string, swing: state.swing })) asked = string;
}

/** @param {number} string */
function play(string) {
  const one = known().get(string);
  if (one.refused) { say(one.refused); return; }
  if (!context) return;
  const peak = one.voltage.reduce((/** @type {number} */ a, /** @type {number} */ v) => Math.max(a, Math.abs(v)), 1e-12);
  gain ||= PEAK / peak * 10 ** ((state.answers.strings?.answer.strings?.[string - 1]?.level_displacement || 0) / 20);
  gain = Math.min(gain, 1 / peak);
  const n = Math.min(one.voltage.length, Math.round(LONGEST * one.rate));
  const buffer = context.createBuffer(1, n, one.rate);
  const samples = buffer.getChannelData(0);
  const fade = Math.round(FADE * one.rate);
  for (let i = 0; i < n; i++) samples[i] = gain * one.voltage[i] * Math.min(1, (n - 1 - i) / fade);
  const source = context.createBufferSource();
  source.buffer = buffer;
  source.connect(context.destination);
  source.onended = () => { ringing.delete(source); stopper.disabled = !ringing.size; };
  ringing.add(source);
  stopper.disabled = false;
  source.start();
}

function silence() {
  waiting = 0;
  ringing.forEach((source) => source.stop());
}
